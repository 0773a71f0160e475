#include "sim/whole_file.h"

#include "sim/file_bytes.h"

#include <cerrno>
#include <cstdio>
#include <fcntl.h>
#include <fmt/format.h>
#include <stdexcept>
#include <string>
#include <sys/stat.h>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace needleturn::sim {

namespace {

namespace fs = std::filesystem;

/// The words of an error number, for someone who wanted a file in `folder`.
std::string reason(int error, const fs::path& folder) {
    switch (error) {
    case ENOENT:
        return "there is no folder " + folder.string();
    case ENOTDIR:
        return folder.string() + " is not a folder";
    case EACCES:
    case EPERM:
        return "no permission to write into the folder " + folder.string();
    case EROFS:
        return "the folder " + folder.string() + " is read-only";
    case ENOSPC:
        return "the disk is full";
    case ENAMETOOLONG:
        return "the name is too long";
    case EDQUOT:
        return "the disk quota is used up";
    default:
        return std::generic_category().message(error);
    }
}

[[noreturn]] void refuse(const fs::path& path, const std::string& why) {
    throw std::runtime_error(path.string() + ": cannot be written: " + why);
}

[[noreturn]] void fail() { throw std::system_error(errno, std::generic_category()); }

void check(int result) {
    if (result != 0)
        fail();
}

/// How the names of the temporaries of `final_name` begin. They must be as short as a name may be, 255 bytes on common file
/// systems, with a process number and a count behind them.
std::string beginning_of_parts(const fs::path& final_name) {
    constexpr std::size_t longest = 200;
    return fmt::format(".{}.part-", final_name.filename().string().substr(0, longest));
}

/// Locks the file for as long as it is open, in whatever process; false: another has locked it, or this file system knows no locks.
/// Such locks are no hindrance to those that HDF5 takes (flock) when it fills the same file.
bool lock(int descriptor) {
    struct flock whole {};
    whole.l_type = F_WRLCK;
    whole.l_whence = SEEK_SET;
    return ::fcntl(descriptor, F_OFD_SETLK, &whole) == 0;
}

/// Removes the temporaries of `final_name` that killed runs have left: a live one has locked its own.
void remove_abandoned_parts(const fs::path& final_name) {
    const auto beginning = beginning_of_parts(final_name);
    const auto folder = final_name.has_parent_path() ? final_name.parent_path() : fs::path{"."};
    std::error_code ignored; // what is left stays: no reason not to write
    for (fs::directory_iterator entry(folder, ignored), end; !ignored && entry != end;
         entry.increment(ignored)) {
        const auto name = entry->path().filename().string();
        if (!name.starts_with(beginning)
            || name.find_first_not_of("0123456789-", beginning.size()) != std::string::npos)
            continue;
        const int descriptor = ::open(entry->path().c_str(), O_RDWR | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
        if (descriptor < 0)
            continue;
        struct stat status {};
        if (::fstat(descriptor, &status) == 0 && S_ISREG(status.st_mode) && lock(descriptor))
            ::unlink(entry->path().c_str());
        ::close(descriptor);
    }
}

/// The temporary: gone with this object unless it was moved into place.
class Part {
  public:
    explicit Part(const fs::path& final_name) {
        const auto beginning = beginning_of_parts(final_name);
        // A name already taken is another thread's, or left by a killed run that had this process number.
        for (int number = 1; descriptor_ < 0; ++number) {
            name_ = final_name.parent_path() / fmt::format("{}{}-{}", beginning, ::getpid(), number);
            descriptor_ = ::open(name_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
            if (descriptor_ < 0 && errno != EEXIST)
                fail();
            if (descriptor_ >= 0 && lock(descriptor_) && !is_there())
                ::close(std::exchange(descriptor_, -1)); // taken for abandoned before it was locked
        }
    }
    Part(const Part&) = delete;
    Part& operator=(const Part&) = delete;
    ~Part() {
        if (descriptor_ >= 0)
            ::close(descriptor_);
        if (locked_ >= 0)
            ::close(locked_);
        if (!name_.empty())
            ::unlink(name_.c_str());
    }

    const fs::path& name() const { return name_; }

    void write(std::span<const std::byte> content) const { write_on(descriptor_, content); }

    void move_to(const fs::path& final_name) {
        check(::fsync(descriptor_));
        locked_ = ::fcntl(descriptor_, F_DUPFD_CLOEXEC,
                          0); // the lock lasts until the last of its descriptors is closed
        check(::close(std::exchange(descriptor_, -1))); // some file systems tell of a full disk only here
        check(std::rename(name_.c_str(), final_name.c_str()));
        name_.clear();
    }

  private:
    bool is_there() const {
        struct stat status {};
        return ::fstat(descriptor_, &status) != 0 || status.st_nlink > 0;
    }

    fs::path name_;
    int descriptor_ = -1;
    int locked_ = -1; ///< keeps the lock while the file is moved
};

/// The name that `path` finally stands for. Throws std::runtime_error for what no file can replace.
fs::path final_name_of(const fs::path& path) {
    std::error_code unknown; // what cannot be looked at cannot be written either, and opening it says why
    const auto status = fs::status(path, unknown);
    if (unknown == std::errc::filename_too_long)
        refuse(path, "the name is too long");
    if (fs::is_directory(status) || (!path.empty() && !path.has_filename()))
        refuse(path, "it is a folder");
    if (path.empty())
        refuse(path, "the name is empty");
    // A rename would replace a device such as /dev/null, and a file its owner protected, without asking.
    if (fs::exists(status) && !fs::is_regular_file(status))
        refuse(path, "it is not a regular file");
    if (fs::exists(status) && ::faccessat(AT_FDCWD, path.c_str(), W_OK, AT_EACCESS) != 0)
        refuse(path, "the file there is write-protected");
    return fs::exists(status) ? fs::canonical(path) : path;
}

/// Makes a part, has it filled and moves it to `path`.
template <class Fill> void put_in_place(const fs::path& path, Fill&& fill) {
    const auto final_name = final_name_of(path);
    const auto folder = final_name.has_parent_path() ? final_name.parent_path() : fs::path{"."};
    remove_abandoned_parts(final_name);
    try {
        Part part{final_name};
        fill(part);
        part.move_to(final_name);
    } catch (const std::system_error& error) {
        refuse(path, reason(error.code().value(), folder));
    }
    try {
        sync_folder(folder);
    } catch (const std::system_error& error) {
        throw std::runtime_error(fmt::format("{}: is written, but a power cut may still undo it: {}",
                                             path.string(), reason(error.code().value(), folder)));
    }
}

} // namespace

void sync_folder(const fs::path& folder) {
    const int descriptor = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (descriptor < 0) {
        if (errno == EACCES) // one may write into a folder that one may not read
            return;
        fail();
    }
    const int error = ::fsync(descriptor) == 0 ? 0 : errno;
    ::close(descriptor);
    if (error != 0 && error != EINVAL && error != ENOTSUP) // a file system that cannot does it by itself
        throw std::system_error(error, std::generic_category());
}

void write_whole_file(const fs::path& path, std::span<const std::byte> content) {
    put_in_place(path, [&](Part& part) { part.write(content); });
}

void write_whole_file(const fs::path& path, const std::function<void(const fs::path&)>& fill) {
    put_in_place(path, [&](Part& part) { fill(part.name()); });
}

} // namespace needleturn::sim
