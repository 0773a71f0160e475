/// HDF5 with errors that are exceptions and objects that close themselves: shared by the files that write and
/// read HDF5, and by nobody else.
#pragma once

#include "sim/cases_file.h"
#include "sim/tracks.h"

#include <hdf5.h>
#include <hdf5_hl.h>

#include <algorithm>
#include <cstdint>
#include <mutex>
#include <stdexcept>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn::sim::hdf5 {

/// What HDF5 has to say, from the innermost call; it prints nothing by itself within a Session.
inline std::string what_hdf5_says() {
    std::string words;
    H5Ewalk2(
        H5E_DEFAULT, H5E_WALK_UPWARD,
        [](unsigned, const H5E_error2_t* error, void* out) -> herr_t {
            if (auto& first = *static_cast<std::string*>(out); first.empty() && error->desc)
                first = error->desc;
            return 0;
        },
        &words);
    std::ranges::replace(words, '\n', ' ');
    return words.empty() ? "HDF5 gives no reason" : words;
}

/// An HDF5 call failed.
struct Hdf5Failure : std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// Passes on the result of an HDF5 call unless it failed.
template <class Result> Result checked(Result result) {
    if (result < 0)
        throw Hdf5Failure(what_hdf5_says());
    return result;
}

/// What HDF5 said when an object could not be closed, which is where it writes much of what an object holds; empty: nothing. Its
/// destructor cannot throw, so who has written a file asks here once all are closed. Of the one Session there is at a time.
inline std::string& failure_of_closing() {
    static std::string words;
    return words;
}

template <herr_t (*close)(hid_t)> class Handle {
  public:
    explicit Handle(hid_t id) : id_{checked(id)} {}
    Handle(Handle&& other) noexcept : id_{std::exchange(other.id_, H5I_INVALID_HID)} {}
    Handle(const Handle&) = delete;
    Handle& operator=(const Handle&) = delete;
    ~Handle() {
        if (id_ >= 0 && close(id_) < 0 && failure_of_closing().empty())
            failure_of_closing() = what_hdf5_says();
    }
    operator hid_t() const { return id_; }
    hid_t release() { return std::exchange(id_, H5I_INVALID_HID); }

  private:
    hid_t id_;
};

using File = Handle<H5Fclose>;
using Object = Handle<H5Oclose>; ///< a group or a dataset
using Space = Handle<H5Sclose>;
using Type = Handle<H5Tclose>;
using Attribute = Handle<H5Aclose>;
using Properties = Handle<H5Pclose>;

/// One caller at a time, and silence on standard error meanwhile: the high-level part of HDF5 is not made for
/// threads, and what it would print becomes the one line that our functions throw.
class Session {
  public:
    Session() : lock_{mutex()} {
        // On a full disk a file cannot be closed, and what HDF5 does about it at exit crashes (seen with 1.10.8).
        static const herr_t at_exit = H5dont_atexit();
        static_cast<void>(at_exit);
        failure_of_closing().clear();
        H5Eget_auto2(H5E_DEFAULT, &print_, &print_argument_);
        H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);
    }
    Session(const Session&) = delete;
    Session& operator=(const Session&) = delete;
    ~Session() { H5Eset_auto2(H5E_DEFAULT, print_, print_argument_); }

  private:
    static std::mutex& mutex() {
        static std::mutex only;
        return only;
    }
    std::scoped_lock<std::mutex> lock_;
    H5E_auto2_t print_ = nullptr;
    void* print_argument_ = nullptr;
};

inline Type text_type() {
    Type type{H5Tcopy(H5T_C_S1)};
    checked(H5Tset_size(type, H5T_VARIABLE));
    checked(H5Tset_cset(type, H5T_CSET_UTF8));
    return type;
}

/// Properties of a group or a file: what is in it keeps its order, and no times are stored.
inline Properties ordered(hid_t property_class) {
    Properties properties{H5Pcreate(property_class)};
    checked(H5Pset_link_creation_order(properties, H5P_CRT_ORDER_TRACKED | H5P_CRT_ORDER_INDEXED));
    checked(H5Pset_obj_track_times(properties, false));
    return properties;
}

inline void set_attribute(hid_t object, const char* name, hid_t file_type, hid_t memory_type,
                          const void* value) {
    const Space scalar{H5Screate(H5S_SCALAR)};
    const Attribute attribute{H5Acreate2(object, name, file_type, scalar, H5P_DEFAULT, H5P_DEFAULT)};
    checked(H5Awrite(attribute, memory_type, value));
}

inline void set(hid_t object, const char* name, const std::string& text) {
    const auto type = text_type();
    const char* characters = text.c_str();
    set_attribute(object, name, type, type, &characters);
}

inline void set(hid_t object, const char* name, double value) {
    set_attribute(object, name, H5T_IEEE_F64LE, H5T_NATIVE_DOUBLE, &value);
}

inline void set(hid_t object, const char* name, std::int64_t value) {
    set_attribute(object, name, H5T_STD_I64LE, H5T_NATIVE_INT64, &value);
}

inline void set_unless_empty(hid_t object, const char* name, const std::string& text) {
    if (!text.empty())
        set(object, name, text);
}

inline void describe(hid_t dataset, const std::string& unit, const std::string& meaning) {
    set_unless_empty(dataset, "units", unit);
    set_unless_empty(dataset, "long_name", meaning);
}

/// Names of what a group or file written as `ordered` holds, in order.
inline std::vector<std::string> names_in(hid_t group) {
    H5G_info_t info{};
    checked(H5Gget_info(group, &info));
    std::vector<std::string> names;
    for (hsize_t i = 0; i < info.nlinks; ++i) {
        const auto put_name = [&](char* name, std::size_t size) {
            return checked(
                H5Lget_name_by_idx(group, ".", H5_INDEX_CRT_ORDER, H5_ITER_INC, i, name, size, H5P_DEFAULT));
        };
        auto& name = names.emplace_back(static_cast<std::size_t>(put_name(nullptr, 0)), '\0');
        put_name(name.data(), name.size() + 1);
    }
    return names;
}

/// All values of a dataset, the last dimension fastest.
inline std::vector<double> all_numbers(hid_t dataset) {
    const Space space{H5Dget_space(dataset)};
    std::vector<double> values(static_cast<std::size_t>(checked(H5Sget_simple_extent_npoints(space))));
    if (!values.empty()) // HDF5 wants somewhere to put nothing
        checked(H5Dread(dataset, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data()));
    return values;
}

/// All texts of a dataset of them, the last dimension fastest.
inline std::vector<std::string> all_words(hid_t dataset) {
    const Type type{H5Dget_type(dataset)};
    const Space space{H5Dget_space(dataset)};
    std::vector<char*> characters(static_cast<std::size_t>(checked(H5Sget_simple_extent_npoints(space))));
    if (characters.empty())
        return {};
    checked(H5Dread(dataset, type, H5S_ALL, H5S_ALL, H5P_DEFAULT, characters.data()));
    std::vector<std::string> words;
    for (const char* word : characters)
        words.emplace_back(word ? word : "");
    checked(H5Dvlen_reclaim(type, space, H5P_DEFAULT, characters.data()));
    return words;
}

inline Object make_group(hid_t file, const char* name) {
    const auto properties = ordered(H5P_GROUP_CREATE);
    return Object{H5Gcreate2(file, name, H5P_DEFAULT, properties, H5P_DEFAULT)};
}

// Fewer rows than this, as tables have, are not worth compressing.
inline constexpr hsize_t rows_worth_compressing = 64;

// Whole signals are read far more often than parts: 128 KiB of float64 at a time.
inline constexpr hsize_t rows_per_chunk = 16384;

// The fastest level: shuffled signals shrink hardly further with more of it, and a run takes milliseconds.
inline constexpr unsigned deflate_level = 1;

inline constexpr const char* time_name = "time";

/// The group of the file's own digest (sim/hdf5_file.cpp).
inline constexpr const char* integrity_name = "integrity";

/// Lets a dataset of numbers be stored in chunks of that size, each with its checksum. Texts of variable length can have none:
/// HDF5 keeps them elsewhere.
inline void set_chunk(hid_t properties, const std::vector<hsize_t>& chunk) {
    checked(H5Pset_chunk(properties, static_cast<int>(chunk.size()), chunk.data()));
    checked(H5Pset_fletcher32(properties));
}

/// Makes a dataset for `rows` values of one dimension.
inline Object make_rows(hid_t group, const std::string& name, hid_t file_type, hsize_t rows) {
    const Space space{H5Screate_simple(1, &rows, nullptr)};
    const Properties properties{H5Pcreate(H5P_DATASET_CREATE)};
    checked(H5Pset_obj_track_times(properties, false));
    const bool numbers = checked(H5Tis_variable_str(file_type)) == 0;
    if (numbers && rows >= rows_worth_compressing) {
        checked(H5Pset_shuffle(properties));
        checked(H5Pset_deflate(properties, deflate_level));
    }
    if (numbers && rows > 0)
        set_chunk(properties, {std::min(rows, rows_per_chunk)});
    return Object{H5Dcreate2(group, name.c_str(), file_type, space, H5P_DEFAULT, properties, H5P_DEFAULT)};
}

/// Makes a dataset of `rows` values.
inline Object write_rows(hid_t group, const std::string& name, hid_t file_type, hid_t memory_type,
                         const void* values, hsize_t rows) {
    auto dataset = make_rows(group, name, file_type, rows);
    if (rows > 0)
        checked(H5Dwrite(dataset, memory_type, H5S_ALL, H5S_ALL, H5P_DEFAULT, values));
    return dataset;
}

inline Object write_rows(hid_t group, const std::string& name, const std::vector<double>& rows) {
    return write_rows(group, name, H5T_IEEE_F64LE, H5T_NATIVE_DOUBLE, rows.data(), rows.size());
}

inline Object write_rows(hid_t group, const std::string& name, const std::vector<std::int64_t>& rows) {
    return write_rows(group, name, H5T_STD_I64LE, H5T_NATIVE_INT64, rows.data(), rows.size());
}

inline Object write_rows(hid_t group, const std::string& name, const std::vector<std::string>& rows) {
    std::vector<const char*> characters;
    for (const auto& row : rows)
        characters.push_back(row.c_str());
    const auto type = text_type();
    return write_rows(group, name, type, type, characters.data(), rows.size());
}

inline std::string role_name(Role role) {
    switch (role) {
    case Role::held:
        return "held";
    case Role::amount:
        return "amount";
    case Role::meter:
        return "meter";
    case Role::dynamic:
        break;
    }
    return "";
}

/// Makes a dataset of every stride-th sample of a signal, piece by piece.
template <class ValueOf> Object write_samples(hid_t group, const std::string& name, hsize_t samples,
                                              hsize_t stride, ValueOf&& value_of) {
    const hsize_t kept = samples == 0 ? 0 : (samples - 1) / stride + 1;
    auto dataset = make_rows(group, name, H5T_IEEE_F64LE, kept);
    const Space space{H5Dget_space(dataset)};
    std::vector<double> piece;
    for (hsize_t begin = 0; begin < kept; begin += piece.size()) {
        piece.resize(std::min(rows_per_chunk, kept - begin));
        for (hsize_t i = 0; i < piece.size(); ++i)
            piece[i] = value_of((begin + i) * stride);
        const hsize_t length = piece.size();
        const Space memory{H5Screate_simple(1, &length, nullptr)};
        checked(H5Sselect_hyperslab(space, H5S_SELECT_SET, &begin, nullptr, &length, nullptr));
        checked(H5Dwrite(dataset, H5T_NATIVE_DOUBLE, memory, space, H5P_DEFAULT, piece.data()));
    }
    return dataset;
}

/// The group `name` with the signals on their time grid, every stride-th sample.
inline void write_signals(hid_t file, const char* name, const Recording& recording, hsize_t stride,
                          const Attributes& attributes = {}) {
    const auto group = make_group(file, name);
    set(group, "typical_is",
        "the size of a quantity, in its units, by which errors are weighed; no limit, and no mean of this "
        "run");
    set(group, "role_is",
        "amount: changes only when a hand changes it; meter: an integral that nothing reads; held: keeps at "
        "rest "
        "what a motion left; none: any other quantity");
    for (const auto& [key, value] : attributes)
        std::visit([&, name = key.c_str()](const auto& of) { set(group, name, of); }, value);
    const hsize_t samples = recording.samples();
    const auto scale =
        write_samples(group, time_name, samples, stride, [&](std::size_t k) { return recording.time_of(k); });
    describe(scale, "s", "time since the start of the run");
    checked(H5DSset_scale(scale, time_name));
    for (std::size_t i = 0; i < recording.quantities.size(); ++i) {
        const auto& quantity = recording.quantities[i];
        const Track track = Tracks(recording).at(i);
        const auto signal =
            write_samples(group, quantity.name, samples, stride, [&](std::size_t k) { return track[k]; });
        describe(signal, quantity.unit, quantity.meaning);
        set(signal, "typical", quantity.typical);
        set_unless_empty(signal, "role", role_name(quantity.role));
        checked(H5DSattach_scale(signal, scale, 0));
    }
}

} // namespace needleturn::sim::hdf5
