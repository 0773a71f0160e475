#include "tools/commands/results_place.h"

#include "sim/cases_file.h"
#include "tools/results/kinds.h"

#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <fstream>
#include <stdexcept>
#include <string>
#include <system_error>
#include <utility>

namespace needleturn {

namespace {

namespace fs = std::filesystem;

[[noreturn]] void refuse(const fs::path& path, std::string_view why) {
    throw std::runtime_error(fmt::format("{}: {}", path.string(), why));
}

/// Scenarios and hardware are TOML, and nothing else is.
void check_ending(const Place& place) {
    const bool writes_scenarios = place.command == "stage" || place.command == "rehearse"
                                  || place.command == "hardware" || place.command == "fit";
    if (place.beside || (place.path.extension() == ".toml") == writes_scenarios)
        return;
    if (writes_scenarios)
        refuse(place.path, "name a file that ends in .toml");
    refuse(place.path, fmt::format("would overwrite a scenario; name a file that ends in {}",
                                   place.command == "figure"                               ? ".svg"
                                   : place.command == "export"                             ? ".csv"
                                   : place.command == "report" || place.command == "sheet" ? ".html"
                                                                                           : ".h5"));
}

void check_folder(const fs::path& path) {
    const auto folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
    if (!is_folder(folder))
        refuse(folder, fmt::format("no such folder to write {} into", path.filename().string()));
    if (access(folder.c_str(), W_OK) != 0)
        refuse(folder, fmt::format("no permission to write {} into this folder", path.filename().string()));
}

/// Throws std::runtime_error where the name itself is at fault.
fs::file_status status_of(const fs::path& path) {
    std::error_code unknown; // what may not be looked at is told when it is opened
    const auto status = fs::status(path, unknown);
    if (unknown == std::errc::filename_too_long)
        refuse(path, "the name is too long");
    return status;
}

std::string beginning_of(const fs::path& path) {
    constexpr std::size_t enough = 4096;
    std::string text(enough, '\0');
    std::ifstream in(path, std::ios::binary);
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(in.gcount()));
    return text;
}

std::string author_of_hdf5(const fs::path& path) {
    const auto kind = sim::cases_attribute(path, "kind");
    if (kind == map_kind)
        return "map";
    if (kind == window_kind)
        return "window";
    if (kind == fit_kind)
        return "fit";
    if (!sim::cases_attribute(path, "program").starts_with("needleturn "))
        return "";
    return sim::cases_attribute(path, "identity").empty() ? "run" : "sweep";
}

/// The command that wrote the file at `path`, "run", "map", ...; empty: none of this program, or a picture, which does not say.
std::string author_of(const fs::path& path) {
    const auto begins = beginning_of(path);
    if (begins.starts_with("\x89HDF\r\n\x1a\n"))
        return author_of_hdf5(path);
    constexpr std::array<std::pair<std::string_view, std::string_view>, 5> first_words{
        {{stage_mark, "stage"},
         {rehearse_mark, "rehearse"},
         {hardware_mark, "hardware"},
         {fit_mark, "fit"},
         {"COMMISSIONING SHEET: ", "sheet"}}};
    for (const auto& [words, command] : first_words)
        if (begins.starts_with(words))
            return std::string(command);
    for (const auto* command : {"report", "sheet"})
        if (begins.starts_with("<!doctype html>")
            && begins.find(fmt::format("content=\"needleturn {}\"", command)) != std::string::npos)
            return command;
    return "";
}

} // namespace

bool is_folder(const fs::path& path) {
    std::error_code unknown;
    return fs::is_directory(path, unknown);
}

void check_place(const Place& place) {
    check_ending(place);
    std::error_code unknown;
    for (const auto& input : place.inputs)
        if (place.path.lexically_normal() == input.lexically_normal()
            || fs::equivalent(place.path, input, unknown))
            refuse(place.path, fmt::format("is what {} reads; name another file to write", place.command));
    check_folder(place.path);
    const auto status = status_of(place.path);
    if (!fs::exists(status)) {
        if (fs::is_symlink(fs::symlink_status(place.path, unknown)))
            refuse(place.path, "is a symbolic link to nothing");
        return;
    }
    if (fs::is_directory(status))
        refuse(place.path, "is a folder; name a file");
    if (!fs::is_regular_file(status))
        refuse(place.path, "is no regular file, and is not written over");
    if (!place.force && author_of(place.path) != place.command)
        refuse(place.path, fmt::format("is there and was not written by needleturn {}; name another file, or "
                                       "replace it with --force",
                                       place.command));
}

void check_folder_of_results(const fs::path& path) {
    const auto status = status_of(path);
    if (fs::exists(status) && !fs::is_directory(status))
        refuse(path, "is there and is no folder; name a folder");
}

void add_force(Command command, bool& force) {
    command.add_flag("--force", force, "replace a file that this command did not write");
}

} // namespace needleturn
