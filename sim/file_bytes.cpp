#include "sim/file_bytes.h"

#include <cerrno>
#include <sys/stat.h>
#include <sys/types.h>
#include <system_error>
#include <unistd.h>

namespace needleturn::sim {

namespace {

[[noreturn]] void fail(int error) { throw std::system_error(error, std::generic_category()); }

/// `write(rest)` writes a part of the rest, as write(2).
template <class Write> void write_all(std::span<const std::byte> rest, const Write& write) {
    while (!rest.empty()) {
        const ssize_t written = write(rest);
        if (written > 0)
            rest = rest.subspan(static_cast<std::size_t>(written));
        else if (written == 0 || errno != EINTR)
            fail(written == 0 ? ENOSPC : errno);
    }
}

} // namespace

std::uint64_t length_of(int descriptor) {
    struct stat status {};
    if (::fstat(descriptor, &status) != 0)
        fail(errno);
    return static_cast<std::uint64_t>(status.st_size);
}

std::size_t read_at(int descriptor, std::span<std::byte> bytes, std::uint64_t place) {
    std::size_t done = 0;
    while (done < bytes.size()) {
        const auto rest = bytes.subspan(done);
        const auto read = ::pread(descriptor, rest.data(), rest.size(), static_cast<off_t>(place + done));
        if (read == 0)
            break;
        if (read > 0)
            done += static_cast<std::size_t>(read);
        else if (errno != EINTR)
            fail(errno);
    }
    return done;
}

void write_at(int descriptor, std::span<const std::byte> bytes, std::uint64_t place) {
    write_all(bytes, [&](std::span<const std::byte> rest) {
        return ::pwrite(descriptor, rest.data(), rest.size(),
                        static_cast<off_t>(place + (bytes.size() - rest.size())));
    });
}

void write_on(int descriptor, std::span<const std::byte> bytes) {
    write_all(bytes,
              [&](std::span<const std::byte> rest) { return ::write(descriptor, rest.data(), rest.size()); });
}

} // namespace needleturn::sim
