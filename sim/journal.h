/// A journal: what is finished, kept safe while the rest is still going on. Records are numbered and appended as they come; each
/// carries checksums. Whatever ends the program, all records that were on the disk are found again. One that was cut off or damaged
/// is as if it had never been there, and costs none of those behind it.
///
///     file = header | record*
///     header = "needleturn journal 2\n", length (u64), text, checksum (u32)
///     record = length (u32), number (u64), checksum of both (u32), content, checksum of the content (u32)
///
/// Integers in the byte order of the machine: a journal is read where it was written, or on a machine of its kind.
/// Checksums: CRC-32 of ISO/IEC/IEEE 8802-3, from Boost.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <vector>

namespace needleturn::sim {

class Journal {
  public:
    enum class Use {
        write, ///< begun where there is none; by one process at a time, which alone has it
        read   ///< must be there, and is left as it is, damage included
    };

    /// Opens the journal at `path` for records numbered 0 .. `capacity` - 1. `header` says what the records belong to, byte for
    /// byte.
    ///
    /// Throws std::runtime_error with one line: the path and what is wrong. That is also so when the journal there
    /// has another header, is no journal, or is in use by another process that writes.
    Journal(std::filesystem::path path, const std::string& header, std::uint64_t capacity,
            Use use = Use::write);

    Journal(const Journal&) = delete;
    Journal& operator=(const Journal&) = delete;
    Journal(Journal&& other) noexcept;
    ~Journal();

    std::uint64_t size() const { return size_; } ///< records it holds
    bool holds(std::uint64_t number) const { return number < places_.size() && places_[number] != 0; }

    /// Adds record `number`, which it must not hold yet. It survives the death of the program from here on, and that
    /// of the machine from the next sync on, at most `sync_every` later if records keep coming. Throws
    /// std::runtime_error when the disk is full; the journal is then as it was before.
    void append(std::uint64_t number, std::span<const std::byte> content);

    /// Forces to the disk what was appended.
    void sync();

    /// Content of record `number`, which it must hold.
    std::vector<std::byte> operator[](std::uint64_t number) const;

    static constexpr std::chrono::milliseconds sync_every{200};

  private:
    Journal(std::filesystem::path path, std::uint64_t capacity);
    void open(Use use);
    void check_header(const std::string& text, Use use);
    void find_records(std::uint64_t begin);
    bool find_record(std::uint64_t place, std::uint64_t length);
    void write_at(std::span<const std::byte> bytes, std::uint64_t place);
    [[noreturn]] void refuse(const std::string& why) const;

    std::filesystem::path path_;
    int descriptor_ = -1;
    std::uint64_t end_ = 0, size_ = 0;
    /// Of each record in the file; 0: not there. It is all that memory has of a record.
    std::vector<std::uint64_t> places_;
    std::chrono::steady_clock::time_point synced_ = std::chrono::steady_clock::now();
};

} // namespace needleturn::sim
