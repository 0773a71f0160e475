/// A disk that fails where it is told to: a library for LD_PRELOAD, put between a program and the C library by
/// tests/tools/disk_faults.py. It counts the calls by which the program changes files in one folder, and
///
///     DISK_FAULT_FOLDER   the folder, an absolute path; calls on files elsewhere are let through uncounted
///     DISK_FAULT_CALL     if set, only calls of this kind count: "write", "rename", ...
///     DISK_FAULT_AT       the number of the call, from 1, at which it does something; absent: never
///     DISK_FAULT_DO       "kill": the program is killed in place of the call; "killed": after it;
///                         "short": a write writes only its first half and then kills; else the number of an error that the call ends
///                         with in place of being made
///     DISK_FAULT_ON       "1": all later calls end with that error, too, as on a full disk; locks and reading excepted
///     DISK_FAULT_LOG      a file that gets a line for each counted call, made or not, and what was written:
///                         <call> <inode> <place or -> <length> <name>[\0<new name>]\n<bytes>
#include <cerrno>
#include <csignal>
#include <cstdarg>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <dlfcn.h>
#include <fcntl.h>
#include <mutex>
#include <string>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

namespace {

template <class Function> Function next(Function, const char* name) {
    return reinterpret_cast<Function>(dlsym(RTLD_NEXT, name));
}
// The C library's own function of this name; asked for each time, for the first call may come before any static is made.
#define NEXT(name) next(&name, #name)

const char* setting(const char* name) {
    const char* value = std::getenv(name);
    return value != nullptr ? value : "";
}

long& count() {
    static long calls = 0;
    return calls;
}

std::mutex& mutex() {
    static std::mutex only;
    return only;
}

/// Is this the process that was started? Its children only read, and count by themselves.
bool in_first_process() {
    static const pid_t first = getpid();
    return getpid() == first;
}
[[maybe_unused]] const bool asked_before_any_child = in_first_process();

bool inside(const std::string& path) {
    const std::string folder = setting("DISK_FAULT_FOLDER");
    if (folder.empty() || !in_first_process())
        return false;
    if (path.empty() || path.front() != '/') {
        char here[4096];
        return getcwd(here, sizeof here) != nullptr && inside(std::string(here) + "/" + path);
    }
    return path == folder || path.rfind(folder + "/", 0) == 0;
}

std::string path_of(int descriptor) {
    char path[4096];
    const auto length = readlink(("/proc/self/fd/" + std::to_string(descriptor)).c_str(), path, sizeof path);
    return length > 0 ? std::string(path, static_cast<std::size_t>(length)) : "";
}

std::string name_in(const std::string& path) { return path.substr(path.rfind('/') + 1); }

unsigned long inode_of(int descriptor) {
    struct stat status {};
    return fstat(descriptor, &status) == 0 ? status.st_ino : 0;
}

void put(int log, const void* bytes, std::size_t size) {
    [[maybe_unused]] const auto written = NEXT(write)(log, bytes, size);
}

struct Call {
    const char* what;
    unsigned long inode = 0;
    long long place = -1;
    const void* bytes = nullptr;
    std::size_t length = 0;
    std::string name;
    bool can_fail = true; ///< of a lasting error
};

void log(const Call& call) {
    const char* path = setting("DISK_FAULT_LOG");
    if (*path == 0)
        return;
    const int file = NEXT(open)(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
    const auto line = std::string(call.what) + " " + std::to_string(call.inode) + " "
                      + std::to_string(call.place) + " "
                      + std::to_string(call.bytes != nullptr ? call.length : 0) + " " + call.name + "\n";
    put(file, line.data(), line.size());
    if (call.bytes != nullptr)
        put(file, call.bytes, call.length);
    NEXT(close)(file);
}

[[noreturn]] void die() {
    kill(getpid(), SIGKILL);
    for (;;)
        pause();
}

/// Makes the call, or what was asked for in its place. `make(length)` makes it with so many bytes; what it changes is logged when
/// it has succeeded.
template <class Make> long meddle(Call call, Make&& make) {
    const std::lock_guard lock(mutex());
    const long at = std::atol(setting("DISK_FAULT_AT"));
    const std::string what = setting("DISK_FAULT_DO");
    const std::string only = setting("DISK_FAULT_CALL");
    const long number = only.empty() || only == call.what ? ++count() : 0;
    const bool lasting = *setting("DISK_FAULT_ON") == '1' && at > 0 && count() > at && call.can_fail;
    const bool here = number > 0 && number == at;
    if (here && what == "kill")
        die();
    if (here && what == "short") {
        call.length /= 2;
        make(call.length);
        log(call);
        die();
    }
    const int error = std::atoi(what.c_str());
    const bool frees = std::strcmp(call.what, "unlink") == 0 && error == ENOSPC; // a full disk lets go
    if (error > 0 && (here || lasting) && !frees) {
        errno = error;
        return -1;
    }
    const long result = make(call.length);
    const int seen = errno;
    if (result >= 0) {
        if (call.bytes != nullptr)
            call.length = static_cast<std::size_t>(result);
        log(call);
    }
    if (here && what == "killed")
        die();
    errno = seen;
    return result;
}

template <class Make> long with_descriptor(const char* what, int descriptor, long long place,
                                           const void* bytes, std::size_t length, Make&& make,
                                           bool can_fail = true) {
    const auto path = path_of(descriptor);
    if (!inside(path))
        return make(length);
    return meddle({what, inode_of(descriptor), place, bytes, length, name_in(path), can_fail}, make);
}

template <class Open> int open_with(const char* path, int flags, Open&& open) {
    const bool creates = (flags & O_CREAT) != 0;
    if (!inside(path) || (flags & O_ACCMODE) == O_RDONLY)
        return open();
    struct stat status {};
    const bool there = stat(path, &status) == 0;
    const bool emptied = there && (flags & O_TRUNC) != 0;
    int descriptor = -1;
    // What it changes is known only when it is done, so it is logged by hand.
    const auto made = meddle({"open", 0, -1, nullptr, 0, name_in(path), creates},
                             [&](std::size_t) -> long { return descriptor = open(); });
    if (made >= 0 && !there)
        log({"create", inode_of(descriptor), -1, nullptr, 0, name_in(path)});
    if (made >= 0 && emptied)
        log({"empty", inode_of(descriptor), 0, nullptr, 0, name_in(path)});
    return static_cast<int>(made);
}

mode_t mode_from(int flags, va_list arguments) {
    return (flags & O_CREAT) != 0 ? static_cast<mode_t>(va_arg(arguments, int)) : 0;
}

} // namespace

extern "C" {

int open(const char* path, int flags, ...) {
    va_list arguments;
    va_start(arguments, flags);
    const auto mode = mode_from(flags, arguments);
    va_end(arguments);
    return open_with(path, flags, [&] { return NEXT(open)(path, flags, mode); });
}

int open64(const char* path, int flags, ...) {
    va_list arguments;
    va_start(arguments, flags);
    const auto mode = mode_from(flags, arguments);
    va_end(arguments);
    return open_with(path, flags, [&] { return NEXT(open64)(path, flags, mode); });
}

ssize_t write(int descriptor, const void* bytes, size_t size) {
    return with_descriptor("write", descriptor, lseek(descriptor, 0, SEEK_CUR), bytes, size,
                           [&](std::size_t n) { return NEXT(write)(descriptor, bytes, n); });
}

ssize_t pwrite(int descriptor, const void* bytes, size_t size, off_t place) {
    return with_descriptor("write", descriptor, place, bytes, size,
                           [&](std::size_t n) { return NEXT(pwrite)(descriptor, bytes, n, place); });
}

ssize_t pwrite64(int descriptor, const void* bytes, size_t size, off64_t place) {
    return with_descriptor("write", descriptor, place, bytes, size,
                           [&](std::size_t n) { return NEXT(pwrite64)(descriptor, bytes, n, place); });
}

int ftruncate(int descriptor, off_t length) noexcept {
    return static_cast<int>(with_descriptor("truncate", descriptor, length, nullptr, 0, [&](std::size_t) {
        return NEXT(ftruncate)(descriptor, length);
    }));
}

int ftruncate64(int descriptor, off64_t length) noexcept {
    return static_cast<int>(with_descriptor("truncate", descriptor, length, nullptr, 0, [&](std::size_t) {
        return NEXT(ftruncate64)(descriptor, length);
    }));
}

int fsync(int descriptor) {
    return static_cast<int>(with_descriptor("sync", descriptor, -1, nullptr, 0,
                                            [&](std::size_t) { return NEXT(fsync)(descriptor); }));
}

int fdatasync(int descriptor) {
    return static_cast<int>(with_descriptor("sync", descriptor, -1, nullptr, 0,
                                            [&](std::size_t) { return NEXT(fdatasync)(descriptor); }));
}

int close(int descriptor) {
    // The descriptor is closed whatever the call says (close(2), Linux).
    return static_cast<int>(with_descriptor("close", descriptor, -1, nullptr, 0,
                                            [&](std::size_t) { return NEXT(close)(descriptor); }));
}

int flock(int descriptor, int operation) noexcept {
    return static_cast<int>(with_descriptor(
        "lock", descriptor, -1, nullptr, 0, [&](std::size_t) { return NEXT(flock)(descriptor, operation); },
        false));
}

int fcntl(int descriptor, int command, ...) {
    va_list arguments;
    va_start(arguments, command);
    void* const argument = va_arg(arguments, void*);
    va_end(arguments);
    const auto call = [&](std::size_t) { return NEXT(fcntl)(descriptor, command, argument); };
    return static_cast<int>(
        command == F_OFD_SETLK ? with_descriptor("lock", descriptor, -1, nullptr, 0, call, false) : call(0));
}

int fcntl64(int descriptor, int command, ...) {
    va_list arguments;
    va_start(arguments, command);
    void* const argument = va_arg(arguments, void*);
    va_end(arguments);
    const auto call = [&](std::size_t) { return NEXT(fcntl)(descriptor, command, argument); };
    return static_cast<int>(
        command == F_OFD_SETLK ? with_descriptor("lock", descriptor, -1, nullptr, 0, call, false) : call(0));
}

int rename(const char* from, const char* to) noexcept {
    const auto make = [&](std::size_t) { return NEXT(rename)(from, to); };
    if (!inside(to))
        return make(0);
    return static_cast<int>(
        meddle({"rename", 0, -1, nullptr, 0, name_in(from) + std::string(1, '\0') + name_in(to)}, make));
}

int unlink(const char* path) noexcept {
    const auto make = [&](std::size_t) { return NEXT(unlink)(path); };
    return static_cast<int>(inside(path) ? meddle({"unlink", 0, -1, nullptr, 0, name_in(path)}, make)
                                         : make(0));
}

int remove(const char* path) noexcept {
    const auto make = [&](std::size_t) { return NEXT(remove)(path); };
    return static_cast<int>(inside(path) ? meddle({"unlink", 0, -1, nullptr, 0, name_in(path)}, make)
                                         : make(0));
}

int mkdir(const char* path, mode_t mode) noexcept {
    const auto make = [&](std::size_t) { return NEXT(mkdir)(path, mode); };
    return static_cast<int>(inside(path) ? meddle({"mkdir", 0, -1, nullptr, 0, name_in(path)}, make)
                                         : make(0));
}
}
