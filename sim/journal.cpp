#include "sim/journal.h"

#include "sim/file_bytes.h"
#include "sim/whole_file.h"

#include <boost/crc.hpp>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <limits>
#include <stdexcept>
#include <sys/file.h>
#include <sys/stat.h>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace needleturn::sim {

namespace {

namespace fs = std::filesystem;

constexpr std::string_view magic = "needleturn journal 2\n";
/// Length and number, and with their checksum.
constexpr std::size_t what_frame = sizeof(std::uint32_t) + sizeof(std::uint64_t);
constexpr std::size_t record_frame = what_frame + sizeof(std::uint32_t);

std::uint32_t checksum(std::span<const std::byte> bytes) {
    boost::crc_32_type crc;
    crc.process_bytes(bytes.data(), bytes.size());
    return crc.checksum();
}

/// Bytes laid one behind the other into room made beforehand.
class Laid {
  public:
    explicit Laid(std::size_t size) : bytes_(size) {}

    void add(const void* first, std::size_t size) {
        if (size > 0)
            std::memcpy(bytes_.data() + end_, first, size);
        end_ += size;
    }
    template <class Integer> void add(Integer value) { add(&value, sizeof value); }
    void add_checksum() { add(checksum(std::span(bytes_).first(end_))); }

    std::vector<std::byte> take() { return std::move(bytes_); }

  private:
    std::vector<std::byte> bytes_;
    std::size_t end_ = 0;
};

template <class Integer> Integer get(std::span<const std::byte> bytes, std::size_t at = 0) {
    Integer value;
    std::memcpy(&value, bytes.data() + at, sizeof value);
    return value;
}

std::vector<std::byte> header_bytes(const std::string& text) {
    Laid laid(magic.size() + sizeof(std::uint64_t) + text.size() + sizeof(std::uint32_t));
    laid.add(magic.data(), magic.size());
    laid.add(static_cast<std::uint64_t>(text.size()));
    laid.add(text.data(), text.size());
    laid.add_checksum();
    return laid.take();
}

/// Reads all of `bytes` from `place` on; false where the file ends before.
bool read_all(int descriptor, std::span<std::byte> bytes, std::uint64_t place) {
    return read_at(descriptor, bytes, place) == bytes.size();
}

} // namespace

Journal::Journal(fs::path path, std::uint64_t capacity) : path_{std::move(path)}, places_(capacity, 0) {}

// The other constructor is done when this one begins, so the destructor closes the file whatever is thrown here.
Journal::Journal(fs::path path, const std::string& header, std::uint64_t capacity, Use use)
    : Journal(std::move(path), capacity) {
    try {
        open(use);
        check_header(header, use);
        find_records(header_bytes(header).size());
    } catch (const std::system_error& error) {
        refuse("cannot be read: " + error.code().message());
    }
}

/// Opens the file that is at the path, and no other: one that was removed between opening and locking belongs to nobody.
void Journal::open(Use use) {
    const bool writes = use == Use::write;
    constexpr int tries = 100;
    for (int i = 0; i < tries; ++i) {
        // O_NONBLOCK: opening a named pipe to read would wait for a writer.
        const int flags = writes ? O_RDWR | O_CREAT : O_RDONLY | O_NONBLOCK;
        constexpr mode_t for_all = 0666; // less what the user's mask takes away
        descriptor_ = ::open(path_.c_str(), flags | O_CLOEXEC, for_all);
        if (descriptor_ < 0)
            refuse("cannot be opened: " + std::generic_category().message(errno));
        struct stat mine {};
        struct stat there {};
        if (::fstat(descriptor_, &mine) != 0)
            throw std::system_error(errno, std::generic_category());
        if (!S_ISREG(mine.st_mode))
            refuse("is no regular file; a journal is wanted");
        if (::flock(descriptor_, (writes ? LOCK_EX : LOCK_SH) | LOCK_NB) != 0)
            refuse(errno == EWOULDBLOCK ? "is in use by another process that does the same work"
                                        : "cannot be locked: " + std::generic_category().message(errno));
        if (::stat(path_.c_str(), &there) == 0 && there.st_ino == mine.st_ino && there.st_dev == mine.st_dev)
            return;
        ::close(std::exchange(descriptor_, -1));
    }
    refuse("is removed again and again by another process");
}

/// Compares the header, or writes it where the journal has just begun. A program that was killed while it wrote the header leaves
/// a file that ends within it; a power cut, one whose sectors partly reached the disk and are zeros otherwise. Both are begun anew:
/// no record follows a header that was not forced to the disk.
void Journal::check_header(const std::string& text, Use use) {
    const auto wanted = header_bytes(text);
    const auto length = length_of(descriptor_);
    std::vector<std::byte> there(std::min<std::uint64_t>(length, wanted.size()));
    (void)read_at(descriptor_, there, 0);
    if (there == wanted)
        return;
    const bool begun =
        length <= wanted.size()
        && std::equal(there.begin(), there.end(), wanted.begin(),
                      [](std::byte is, std::byte to_be) { return is == to_be || is == std::byte{0}; });
    if (begun && use == Use::write) {
        try {
            write_at(wanted, 0);
            sync();
            sync_folder(path_.has_parent_path() ? path_.parent_path() : fs::path{"."});
        } catch (const std::system_error& error) {
            ::unlink(path_.c_str());
            refuse("cannot be written: " + error.code().message());
        } catch (...) {
            ::unlink(path_.c_str());
            throw;
        }
        return;
    }
    if (begun)
        refuse("its header is not whole");
    const auto same = std::min(there.size(), magic.size());
    if (std::memcmp(there.data(), magic.data(), same) != 0)
        refuse("is not a journal of this version of the program");
    refuse("is the journal of something else: another study, scenario, shard or version of the program; "
           "move it away or choose another output");
}

Journal::Journal(Journal&& other) noexcept
    : path_{std::move(other.path_)},
      descriptor_{std::exchange(other.descriptor_, -1)},
      end_{other.end_},
      size_{other.size_},
      places_{std::move(other.places_)},
      synced_{other.synced_} {}

Journal::~Journal() {
    if (descriptor_ >= 0)
        ::close(descriptor_);
}

void Journal::refuse(const std::string& why) const { throw std::runtime_error(path_.string() + ": " + why); }

/// Is there a whole record at `place`? It is noted, unless a record of its number is known already.
bool Journal::find_record(std::uint64_t place, std::uint64_t length) {
    std::vector<std::byte> record(record_frame);
    if (place + record_frame > length || !read_all(descriptor_, record, place))
        return false;
    const auto content = get<std::uint32_t>(record);
    const auto number = get<std::uint64_t>(record, sizeof content);
    if (get<std::uint32_t>(record, what_frame) != checksum(std::span(record).first(what_frame))
        || number >= places_.size())
        return false;
    const std::uint64_t next = place + record_frame + content + sizeof(std::uint32_t);
    if (next > length)
        return false;
    record.resize(content + sizeof(std::uint32_t));
    if (!read_all(descriptor_, record, place + record_frame)
        || get<std::uint32_t>(record, content) != checksum(std::span(record).first(content)))
        return false;
    if (places_[number] == 0) {
        places_[number] = place;
        ++size_;
    }
    end_ = next;
    return true;
}

/// Goes through the file from `begin` on. Where there is no whole record the next one is looked for, byte by byte. New records go
/// behind the last whole one.
void Journal::find_records(std::uint64_t begin) {
    const std::uint64_t length = length_of(descriptor_);
    end_ = begin;
    for (std::uint64_t place = begin; place + record_frame <= length;)
        place = find_record(place, length) ? end_ : place + 1;
}

/// Writes all of `bytes` from `place` on; where that fails the file is cut off at `place`. Throws std::runtime_error.
void Journal::write_at(std::span<const std::byte> bytes, std::uint64_t place) {
    try {
        sim::write_at(descriptor_, bytes, place);
    } catch (const std::system_error& error) {
        // A part left standing would be dropped when the journal is next opened; this only saves the space.
        [[maybe_unused]] const int cut = ::ftruncate(descriptor_, static_cast<off_t>(place));
        refuse("cannot be written: "
               + (error.code() == std::errc::no_space_on_device ? std::string("the disk is full")
                                                                : error.code().message())
               + "; what is finished is kept");
    }
}

void Journal::append(std::uint64_t number, std::span<const std::byte> content) {
    if (number >= places_.size() || holds(number)
        || content.size() > std::numeric_limits<std::uint32_t>::max())
        throw std::logic_error("journal: a record that does not belong or is there already");
    Laid laid(record_frame + content.size() + sizeof(std::uint32_t));
    laid.add(static_cast<std::uint32_t>(content.size()));
    laid.add(number);
    laid.add_checksum();
    laid.add(content.data(), content.size());
    laid.add(checksum(content));
    const auto record = laid.take();
    write_at(record, end_);
    places_[number] = end_;
    ++size_;
    end_ += record.size();
    if (std::chrono::steady_clock::now() - synced_ > sync_every)
        sync();
}

void Journal::sync() {
    if (::fdatasync(descriptor_) != 0)
        refuse("cannot be written: " + std::generic_category().message(errno));
    synced_ = std::chrono::steady_clock::now();
}

std::vector<std::byte> Journal::operator[](std::uint64_t number) const {
    if (!holds(number))
        throw std::out_of_range("journal: no such record");
    std::vector<std::byte> frame(record_frame);
    bool whole = read_all(descriptor_, frame, places_[number]);
    std::vector<std::byte> content(whole ? get<std::uint32_t>(frame) : 0);
    whole = whole && read_all(descriptor_, content, places_[number] + record_frame);
    if (!whole)
        refuse("has become shorter while it was in use");
    return content;
}

} // namespace needleturn::sim
