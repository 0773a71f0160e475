/// Reads files that nobody vouches for. A damaged or forged HDF5 file can crash the HDF5 library, or keep it busy for ever (seen
/// with 1.10.8 in texts of variable length and in type conversion). So the file's digest is checked first (sim/digest.h), and what
/// is read then is read in a child process with a limit on memory and on processor time. What happens to the child is one line
/// for the user.
#pragma once

#include "sim/record_bytes.h"

#include <cstddef>
#include <filesystem>
#include <functional>
#include <system_error>
#include <vector>

namespace needleturn::sim {

/// Where the child puts what it has read.
class ByteSink {
  public:
    explicit ByteSink(int descriptor) : descriptor_{descriptor} {}
    ByteSink(const ByteSink&) = delete;
    ByteSink& operator=(const ByteSink&) = delete;
    ~ByteSink() = default;

    void raw(const void* from, std::size_t size);
    template <class Many> void resize(Many& many, std::size_t) {
        std::size_t size = many.size();
        raw(&size, sizeof size);
    }
    void flush();

  private:
    void write(const void* from, std::size_t size) const;
    int descriptor_;
    std::vector<std::byte> gathered_;
};

/// What reading a file may take.
struct ReadLimits {
    std::size_t memory = 0;  ///< bytes, beside what the program has anyway
    std::size_t seconds = 0; ///< of processor time
};

/// Of a file of `size` bytes: a sound one stays far below, for signals that do not change shrink to a thousandth in it.
ReadLimits usual_limits(std::size_t size);

/// Throws std::runtime_error, one line, for what is no regular file or may not be read.
void require_readable(const std::filesystem::path& path);

/// The same, and for a file that is not as its digest says.
void require_whole(const std::filesystem::path& path);

/// Runs `read` in a child process and `take` on what it put into its sink. `read` must not print. Throws std::runtime_error,
/// one line, the path and what is wrong: what `read` throws, or how the child ended.
void read_in_child(const std::filesystem::path& path, const std::function<void(ByteSink&)>& read,
                   const std::function<void(ByteSource&)>& take, const ReadLimits& limits);

/// The value that `read` returns, read in a child process.
template <class Value>
Value read_guarded(const std::filesystem::path& path, const std::function<Value()>& read) {
    std::error_code unknown; // reading says so
    const auto size = std::filesystem::file_size(path, unknown);
    Value value{};
    read_in_child(
        path,
        [&](ByteSink& sink) {
            auto found = read();
            pass(sink, found);
        },
        [&](ByteSource& source) { pass(source, value); }, usual_limits(unknown ? 0 : size));
    return value;
}

} // namespace needleturn::sim
