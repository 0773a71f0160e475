#include "sim/whole_file.h"

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
    case EDQUOT:
        return "the disk quota is used up";
    default:
        return std::generic_category().message(error);
    }
}

[[noreturn]] void refuse(const fs::path& path, const std::string& why) {
    throw std::runtime_error(path.string() + ": cannot be written: " + why);
}

/// The temporary: gone with this object unless it was moved into place.
class Part {
  public:
    explicit Part(const fs::path& final_name) {
        const auto name = final_name.filename().string();
        // A name already taken is another thread's, or left by a killed run that had this process number.
        for (int number = 1; descriptor_ < 0; ++number) {
            name_ = final_name.parent_path() / fmt::format(".{}.part-{}-{}", name, ::getpid(), number);
            descriptor_ = ::open(name_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
            if (descriptor_ < 0 && errno != EEXIST)
                throw std::system_error(errno, std::generic_category());
        }
    }
    Part(const Part&) = delete;
    Part& operator=(const Part&) = delete;
    ~Part() {
        if (descriptor_ >= 0)
            ::close(descriptor_);
        if (!name_.empty())
            ::unlink(name_.c_str());
    }

    const fs::path& name() const { return name_; }

    void write(std::span<const std::byte> content) {
        while (!content.empty()) {
            const auto written = ::write(descriptor_, content.data(), content.size());
            if (written >= 0)
                content = content.subspan(static_cast<std::size_t>(written));
            else if (errno != EINTR)
                throw std::system_error(errno, std::generic_category());
        }
    }

    void move_to(const fs::path& final_name) {
        check(::fsync(descriptor_));
        check(::close(std::exchange(descriptor_, -1))); // some file systems tell of a full disk only here
        check(std::rename(name_.c_str(), final_name.c_str()));
        name_.clear();
    }

  private:
    static void check(int result) {
        if (result != 0)
            throw std::system_error(errno, std::generic_category());
    }

    fs::path name_;
    int descriptor_ = -1;
};

/// The name that `path` finally stands for. Throws std::runtime_error for what no file can replace.
fs::path final_name_of(const fs::path& path) {
    std::error_code unknown; // what cannot be looked at cannot be written either, and opening it says why
    const auto status = fs::status(path, unknown);
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
    try {
        Part part{final_name};
        fill(part);
        part.move_to(final_name);
    } catch (const std::system_error& error) {
        refuse(path, reason(error.code().value(), folder));
    }
}

} // namespace

void write_whole_file(const fs::path& path, std::span<const std::byte> content) {
    put_in_place(path, [&](Part& part) { part.write(content); });
}

void write_whole_file(const fs::path& path, const std::function<void(const fs::path&)>& fill) {
    put_in_place(path, [&](Part& part) { fill(part.name()); });
}

} // namespace needleturn::sim
