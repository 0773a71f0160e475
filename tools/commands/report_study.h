/// What the page of needleturn report is told of the files of map, window, sweep and fit.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include <filesystem>

namespace needleturn {

/// Whether the file is one of cases (sim/cases_file.h) rather than of a run.
bool is_study_file(const std::filesystem::path& path);

/// Everything that the page draws, in SI: what kind of study, its settings, axes and columns; what is not finite is null.
/// Throws std::runtime_error with one line for a study that no chart is made for, or one larger than a chart can show.
nlohmann::json page_study(const std::filesystem::path& path);

} // namespace needleturn
