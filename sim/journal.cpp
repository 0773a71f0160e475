#include "sim/journal.h"

#include "sim/whole_file.h"

#include <boost/crc.hpp>
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

constexpr std::string_view magic = "needleturn journal 1\n";
constexpr std::size_t record_frame = sizeof(std::uint32_t) + sizeof(std::uint64_t);

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

/// Reads `bytes` from `place` on; false at the end of the file.
bool read_at(int descriptor, std::span<std::byte> bytes, std::uint64_t place) {
    while (!bytes.empty()) {
        const auto count = ::pread(descriptor, bytes.data(), bytes.size(), static_cast<off_t>(place));
        if (count < 0 && errno == EINTR)
            continue;
        if (count < 0)
            throw std::system_error(errno, std::generic_category());
        if (count == 0)
            return false;
        bytes = bytes.subspan(static_cast<std::size_t>(count));
        place += static_cast<std::uint64_t>(count);
    }
    return true;
}

std::uint64_t length_of(int descriptor) {
    struct stat status {};
    if (::fstat(descriptor, &status) != 0)
        throw std::system_error(errno, std::generic_category());
    return static_cast<std::uint64_t>(status.st_size);
}

} // namespace

std::string journal_header(const fs::path& path) {
    const auto refuse = [&](const std::string& why) { throw std::runtime_error(path.string() + ": " + why); };
    const int descriptor = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (descriptor < 0)
        refuse("cannot be read: " + std::generic_category().message(errno));
    // NOLINTNEXTLINE(cppcoreguidelines-special-member-functions): it does not leave this function
    struct Closed {
        int descriptor;
        ~Closed() { ::close(descriptor); }
    } const closed{descriptor};
    std::vector<std::byte> start(magic.size() + sizeof(std::uint64_t));
    if (!read_at(descriptor, start, 0) || std::memcmp(start.data(), magic.data(), magic.size()) != 0)
        refuse("is not a journal of this program");
    const auto length = get<std::uint64_t>(start, magic.size());
    if (length > length_of(descriptor))
        refuse("is a journal whose beginning is damaged");
    std::vector<std::byte> rest(length + sizeof(std::uint32_t));
    if (!read_at(descriptor, rest, start.size()))
        refuse("is a journal whose beginning is damaged");
    std::string text(reinterpret_cast<const char*>(rest.data()), length);
    start.insert(start.end(), rest.begin(), rest.end());
    if (start != header_bytes(text))
        refuse("is a journal whose beginning is damaged");
    return text;
}

Journal::Journal(fs::path path, const std::string& header, std::uint64_t capacity)
    : path_{std::move(path)}, places_(capacity, 0) {
    const auto beginning = header_bytes(header);
    if (!fs::exists(path_))
        write_whole_file(path_, beginning); // whole or not at all: no journal has half a header
    if (journal_header(path_) != header)
        refuse("is the journal of something else: another study, scenario, shard or version of the program; "
               "move it away or choose another output");
    descriptor_ = ::open(path_.c_str(), O_RDWR | O_CLOEXEC);
    if (descriptor_ < 0)
        refuse("cannot be opened: " + std::generic_category().message(errno));
    if (::flock(descriptor_, LOCK_EX | LOCK_NB) != 0)
        refuse("is in use by another process that does the same work");
    find_records(beginning.size());
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

/// Goes through the records from `begin` to the first that is not whole, and cuts the file there.
void Journal::find_records(std::uint64_t begin) {
    const std::uint64_t length = length_of(descriptor_);
    std::vector<std::byte> record;
    for (end_ = begin;;) {
        record.resize(record_frame);
        if (end_ + record_frame > length || !read_at(descriptor_, record, end_))
            break;
        const auto content = get<std::uint32_t>(record);
        const auto number = get<std::uint64_t>(record, sizeof content);
        const std::uint64_t next = end_ + record_frame + content + sizeof(std::uint32_t);
        if (next > length || number >= places_.size() || places_[number] != 0)
            break;
        record.resize(record_frame + content + sizeof(std::uint32_t));
        if (!read_at(descriptor_, std::span(record).subspan(record_frame), end_ + record_frame))
            break;
        const auto stated = get<std::uint32_t>(record, record_frame + content);
        if (stated != checksum(std::span(record).first(record_frame + content)))
            break;
        places_[number] = end_;
        ++size_;
        end_ = next;
    }
    if (end_ < length && ::ftruncate(descriptor_, static_cast<off_t>(end_)) != 0)
        refuse("cannot be cut to its last whole record: " + std::generic_category().message(errno));
}

void Journal::append(std::uint64_t number, std::span<const std::byte> content) {
    if (number >= places_.size() || holds(number)
        || content.size() > std::numeric_limits<std::uint32_t>::max())
        throw std::logic_error("journal: a record that does not belong or is there already");
    Laid laid(record_frame + content.size() + sizeof(std::uint32_t));
    laid.add(static_cast<std::uint32_t>(content.size()));
    laid.add(number);
    laid.add(content.data(), content.size());
    laid.add_checksum();
    const auto record = laid.take();
    std::span<const std::byte> rest = record;
    while (!rest.empty()) {
        const auto place = end_ + (record.size() - rest.size());
        const auto written = ::pwrite(descriptor_, rest.data(), rest.size(), static_cast<off_t>(place));
        if (written < 0 && errno == EINTR)
            continue;
        if (written <= 0) {
            const int error = errno;
            // A part left standing would be dropped when the journal is next opened; this only saves the space.
            [[maybe_unused]] const int cut = ::ftruncate(descriptor_, static_cast<off_t>(end_));
            refuse(
                "cannot be written: "
                + (error == ENOSPC ? std::string("the disk is full") : std::generic_category().message(error))
                + "; what is finished is kept");
        }
        rest = rest.subspan(static_cast<std::size_t>(written));
    }
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
    bool whole = read_at(descriptor_, frame, places_[number]);
    std::vector<std::byte> content(whole ? get<std::uint32_t>(frame) : 0);
    whole = whole && read_at(descriptor_, content, places_[number] + record_frame);
    if (!whole)
        refuse("has become shorter while it was in use");
    return content;
}

} // namespace needleturn::sim
