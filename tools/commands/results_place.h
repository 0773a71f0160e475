/// Places that results can be written to, checked before any time is spent on computing them.
#pragma once

#include <filesystem>

namespace needleturn {

/// Whether `path` is a folder; one that may not be looked into is none.
bool is_folder(const std::filesystem::path& path);

/// Throws std::runtime_error where a results file cannot go: a folder that is missing or may not be written into, or a
/// scenario that would be overwritten.
void check_results_place(const std::filesystem::path& path);

/// The same for a scenario that is written, which must not overwrite results.
void check_scenario_place(const std::filesystem::path& path);

} // namespace needleturn
