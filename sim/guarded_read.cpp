#include "sim/guarded_read.h"

#include "sim/digest.h"
#include "sim/file_bytes.h"
#include "sim/sanitized.h"

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <fcntl.h>
#include <fmt/format.h>
#include <fstream>
#include <new>
#include <span>
#include <stdexcept>
#include <string>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <system_error>
#include <unistd.h>

namespace needleturn::sim {

namespace {

namespace fs = std::filesystem;

[[noreturn]] void refuse(const fs::path& path, const std::string& why) {
    throw std::runtime_error(path.string() + ": " + why);
}

/// Bytes of the address space of this process.
rlim_t address_space() {
    std::size_t pages = 0;
    std::ifstream("/proc/self/statm") >> pages;
    return pages * static_cast<rlim_t>(::sysconf(_SC_PAGESIZE));
}

void limit(int what, rlim_t most) {
    rlimit now{};
    ::getrlimit(static_cast<__rlimit_resource_t>(what), &now);
    now.rlim_cur = std::min(most, now.rlim_max);
    ::setrlimit(static_cast<__rlimit_resource_t>(what), &now);
}

/// In the child: nothing of it is to reach the terminal, and its death is to leave no core.
void confine(const ReadLimits& limits) {
    for (const int signal : {SIGINT, SIGTERM, SIGXCPU, SIGSEGV, SIGABRT, SIGBUS, SIGFPE})
        std::signal(signal, SIG_DFL);
    if (const int nowhere = ::open("/dev/null", O_WRONLY | O_CLOEXEC); nowhere >= 0) {
        ::dup2(nowhere, STDERR_FILENO);
        ::dup2(nowhere, STDOUT_FILENO);
    }
    limit(RLIMIT_CORE, 0);
    limit(RLIMIT_CPU, limits.seconds);
    if (!sanitized)
        limit(RLIMIT_AS, address_space() + limits.memory);
}

enum ChildEnd : int { read_well = 0, told_why = 1, out_of_memory = 2 };

[[noreturn]] void be_child(int descriptor, const ReadLimits& limits,
                           const std::function<void(ByteSink&)>& read) {
    ChildEnd end = read_well;
    try {
        confine(limits);
        ByteSink sink(descriptor);
        read(sink);
        sink.flush();
    } catch (const std::bad_alloc&) {
        end = out_of_memory;
    } catch (const std::exception& error) {
        end = told_why;
        const std::string why = error.what();
        if (::ftruncate(descriptor, 0) != 0
            || ::pwrite(descriptor, why.data(), why.size(), 0) != static_cast<ssize_t>(why.size()))
            end = out_of_memory;
    }
    ::_exit(end); // nothing that the parent registered is the child's to end
}

/// An unnamed file in memory, which both processes see.
class Shared {
  public:
    Shared() : descriptor_{::memfd_create("needleturn", MFD_CLOEXEC)} {
        if (descriptor_ < 0)
            throw std::system_error(errno, std::generic_category());
    }
    Shared(const Shared&) = delete;
    Shared& operator=(const Shared&) = delete;
    ~Shared() {
        if (place_ != MAP_FAILED)
            ::munmap(place_, size_);
        ::close(descriptor_);
    }
    int descriptor() const { return descriptor_; }

    std::span<const std::byte> content() {
        struct stat status {};
        if (::fstat(descriptor_, &status) != 0)
            throw std::system_error(errno, std::generic_category());
        size_ = static_cast<std::size_t>(status.st_size);
        if (size_ == 0)
            return {};
        place_ = ::mmap(nullptr, size_, PROT_READ, MAP_PRIVATE, descriptor_, 0);
        if (place_ == MAP_FAILED)
            throw std::system_error(errno, std::generic_category());
        return {static_cast<const std::byte*>(place_), size_};
    }

  private:
    int descriptor_;
    void* place_ = MAP_FAILED;
    std::size_t size_ = 0;
};

int wait_for(pid_t child) {
    int status = 0;
    while (::waitpid(child, &status, 0) < 0)
        if (errno != EINTR)
            throw std::system_error(errno, std::generic_category());
    return status;
}

} // namespace

ReadLimits usual_limits(std::size_t size) {
    constexpr std::size_t gibibyte = std::size_t{1} << 30, bytes_a_second = std::size_t{1} << 22;
    return {gibibyte + std::min(64 * size, 64 * gibibyte), 2 + size / bytes_a_second};
}

void ByteSink::raw(const void* from, std::size_t size) {
    constexpr std::size_t enough = 1 << 20;
    if (size >= enough) {
        flush();
        write(from, size);
        return;
    }
    const auto* first = static_cast<const std::byte*>(from);
    gathered_.insert(gathered_.end(), first, first + size);
    if (gathered_.size() >= enough)
        flush();
}

void ByteSink::flush() {
    write(gathered_.data(), gathered_.size());
    gathered_.clear();
}

void ByteSink::write(const void* from, std::size_t size) const {
    try {
        write_on(descriptor_, {static_cast<const std::byte*>(from), size});
    } catch (const std::system_error&) { // the file is in memory
        throw std::bad_alloc();
    }
}

void require_readable(const fs::path& path) {
    std::error_code unknown; // what cannot be looked at cannot be read either
    const auto status = fs::status(path, unknown);
    if (status.type() == fs::file_type::not_found)
        refuse(path, "there is no such file");
    if (fs::is_directory(status))
        refuse(path, "is a folder, not a results file");
    if (fs::exists(status) && !fs::is_regular_file(status))
        refuse(path, "is not a regular file");
    if (::faccessat(AT_FDCWD, path.c_str(), R_OK, AT_EACCESS) != 0)
        refuse(path, "cannot be read: " + std::generic_category().message(errno));
}

void require_whole(const fs::path& path) {
    require_readable(path);
    if (const auto wholeness = wholeness_of(path); wholeness.kind == Wholeness::Kind::damaged)
        refuse(path, wholeness.why);
}

void read_in_child(const fs::path& path, const std::function<void(ByteSink&)>& read,
                   const std::function<void(ByteSource&)>& take, const ReadLimits& limits) {
    try {
        Shared shared;
        const pid_t child = ::fork();
        if (child < 0)
            throw std::system_error(errno, std::generic_category());
        if (child == 0)
            be_child(shared.descriptor(), limits, read);
        const int status = wait_for(child);
        const auto content = shared.content();
        if (WIFEXITED(status) && WEXITSTATUS(status) == told_why)
            throw std::runtime_error(
                std::string(reinterpret_cast<const char*>(content.data()), content.size()));
        if (WIFEXITED(status) && WEXITSTATUS(status) == read_well) {
            ByteSource source(content);
            try {
                take(source);
            } catch (const std::runtime_error& error) {
                refuse(path, fmt::format("is damaged: {}", error.what()));
            }
            return;
        }
        if (WIFEXITED(status) && WEXITSTATUS(status) == out_of_memory)
            refuse(path, fmt::format("is damaged, or takes more than {} MiB to read", limits.memory >> 20));
        if (WIFSIGNALED(status) && (WTERMSIG(status) == SIGXCPU || WTERMSIG(status) == SIGKILL))
            refuse(path, fmt::format("is damaged, or takes more than {} s to read", limits.seconds));
        if (WIFSIGNALED(status) && (WTERMSIG(status) == SIGINT || WTERMSIG(status) == SIGTERM))
            refuse(path, "was not read: interrupted");
        refuse(path, "is damaged: reading it fails");
    } catch (const std::system_error& error) {
        refuse(path, "cannot be read: " + std::generic_category().message(error.code().value()));
    }
}

} // namespace needleturn::sim
