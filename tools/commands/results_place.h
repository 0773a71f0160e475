/// Places that a command writes to, checked before any time is spent on computing what goes there.
///
/// One rule for all: what a command reads it does not write over, and a file that it did not write itself is replaced only
/// with --force.
#pragma once

#include "tools/commands/options.h"

#include <filesystem>
#include <string_view>
#include <vector>

namespace needleturn {

/// Whether `path` is a folder; one that may not be looked into is none.
bool is_folder(const std::filesystem::path& path);

/// Where a command writes.
struct Place {
    std::filesystem::path path;
    std::string_view command;                  ///< "run"
    std::vector<std::filesystem::path> inputs; ///< files that it reads
    bool force = false;                        ///< a file of another origin may be replaced
    bool beside = false; ///< it goes beside the file that was asked for, under its name with another ending
};

/// Throws std::runtime_error, one line, where a file cannot or may not go: a folder that is missing or may not be written into, an
/// input of the command, what is no regular file, a file of another origin; results over a scenario, or the other way round.
void check_place(const Place& place);

/// Throws std::runtime_error, one line, where there is no folder at `path` and none can be made. One that is missing is made later.
void check_folder_of_results(const std::filesystem::path& path);

/// First lines of scenarios and hardware that a command has written, by which they are known again.
inline constexpr std::string_view stage_mark = "# A proposal of needleturn stage.\n";
inline constexpr std::string_view rehearse_mark = "# An order of needleturn rehearse.\n";
inline constexpr std::string_view hardware_mark = "# A valve as measured, by needleturn hardware.\n";
inline constexpr std::string_view fit_mark = "# A scenario as needleturn fit found it.\n";

/// Gives `command` the option --force.
void add_force(Command command, bool& force);

} // namespace needleturn
