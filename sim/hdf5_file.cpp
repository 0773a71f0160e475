#include "sim/hdf5_file.h"

#include "sim/digest.h"
#include "sim/hdf5_objects.h"
#include "sim/whole_file.h"

#include <charconv>
#include <cstddef>
#include <stdexcept>
#include <string>
#include <string_view>
#include <system_error>

namespace needleturn::sim::hdf5 {

namespace {

/// Whatever HDF5 would keep in memory and that grows with what is written: left alone, its metadata reach 32 MiB, though nothing
/// is looked at again once it is written.
void keep_little_in_memory(hid_t access) {
    constexpr std::size_t metadata = 1 << 18, sieve = 1 << 12; // bytes
    H5AC_cache_config_t cache{};
    cache.version = H5AC__CURR_CACHE_CONFIG_VERSION;
    checked(H5Pget_mdc_config(access, &cache));
    cache.set_initial_size = true;
    cache.initial_size = cache.min_size = cache.max_size = metadata;
    cache.incr_mode = H5C_incr__off;
    cache.flash_incr_mode = H5C_flash_incr__off;
    cache.decr_mode = H5C_decr__off;
    checked(H5Pset_mdc_config(access, &cache));
    checked(H5Pset_sieve_buf_size(access, sieve)); // one for each dataset that is not in chunks
}

/// Writes the blank digest, the first thing in the file; returns its place there. Bare bytes, since HDF5 keeps a checksum of its
/// own of everything else.
std::size_t write_blank_digest(hid_t file) {
    const auto group = make_group(file, integrity_name);
    const auto text = blank_digest();
    const hsize_t size = text.size();
    const Space space{H5Screate_simple(1, &size, nullptr)};
    const Properties properties{H5Pcreate(H5P_DATASET_CREATE)};
    checked(H5Pset_obj_track_times(properties, false));
    checked(H5Pset_alloc_time(properties, H5D_ALLOC_TIME_EARLY));
    const Object digest{
        H5Dcreate2(group, "digest", H5T_STD_U8LE, space, H5P_DEFAULT, properties, H5P_DEFAULT)};
    describe(digest, "1", "characters of a text: the SHA-256 of this file, its own 64 digits taken as \"0\"");
    checked(H5DSset_scale(digest, "digest"));
    checked(H5Dwrite(digest, H5T_NATIVE_CHAR, H5S_ALL, H5S_ALL, H5P_DEFAULT, text.data()));
    return static_cast<std::size_t>(H5Dget_offset(digest));
}

/// The number of the system's error that HDF5 tells in words; 0: none.
int system_error_in(std::string_view words) {
    constexpr std::string_view before = "errno = ";
    const auto place = words.find(before);
    int number = 0;
    if (place != std::string_view::npos)
        std::from_chars(words.data() + place + before.size(), words.data() + words.size(), number);
    return number;
}

void write_sealed(const std::filesystem::path& path, const std::function<void(hid_t file)>& fill) {
    const Properties access{H5Pcreate(H5P_FILE_ACCESS)};
    // Of 1.10 and later, nearly all that HDF5 writes carries a checksum, and small datasets in chunks take no more room than bare.
    checked(H5Pset_libver_bounds(access, H5F_LIBVER_V110, H5F_LIBVER_V110));
    checked(H5Pset_file_locking(access, false, true)); // write_whole_file has locked it
    keep_little_in_memory(access);
    const auto creation = ordered(H5P_FILE_CREATE);
    File file{H5Fcreate(path.c_str(), H5F_ACC_TRUNC, creation, access)};
    const auto place = write_blank_digest(file);
    fill(file);
    checked(H5Fflush(file, H5F_SCOPE_GLOBAL));
    checked(H5Fclose(file.release()));
    if (!failure_of_closing().empty())
        throw Hdf5Failure(failure_of_closing());
    seal_file(path, place);
}

} // namespace

void write_file(const std::filesystem::path& path, const std::function<void(hid_t file)>& fill) {
    write_whole_file(path, [&](const std::filesystem::path& temporary) {
        try {
            write_sealed(temporary, fill);
        } catch (const Hdf5Failure& failure) {
            if (const int number = system_error_in(failure.what()); number != 0)
                throw std::system_error(number, std::generic_category());
            throw std::runtime_error(path.string() + ": cannot be written: " + failure.what());
        }
    });
}

} // namespace needleturn::sim::hdf5
