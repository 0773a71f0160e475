#include "tools/commands/results_place.h"

#include <fmt/format.h>
#include <unistd.h>

#include <stdexcept>
#include <system_error>

namespace needleturn {

namespace {

void check_folder(const std::filesystem::path& path, const char* what) {
    const auto folder = path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
    if (!is_folder(folder))
        throw std::runtime_error(fmt::format("{}: no such folder to write {} into", folder.string(), what));
    if (access(folder.c_str(), W_OK) != 0)
        throw std::runtime_error(
            fmt::format("{}: no permission to write {} into this folder", folder.string(), what));
}

} // namespace

bool is_folder(const std::filesystem::path& path) {
    std::error_code unknown;
    return std::filesystem::is_directory(path, unknown);
}

void check_results_place(const std::filesystem::path& path) {
    check_folder(path, "results");
    if (path.extension() == ".toml")
        throw std::runtime_error(fmt::format(
            "{}: results would overwrite a scenario; name a file that ends in .h5", path.string()));
}

void check_scenario_place(const std::filesystem::path& path) {
    check_folder(path, "a scenario");
    if (path.extension() != ".toml")
        throw std::runtime_error(fmt::format("{}: name a file that ends in .toml", path.string()));
}

} // namespace needleturn
