/// needleturn report: results files to one page that anybody can open.
#pragma once

#include "sim/recording.h"
#include "tools/commands/options.h"

#include <functional>
#include <span>
#include <string>

namespace needleturn {

/// A run and the file it was read from.
struct ReportedRun {
    std::string name; ///< of the file, without folder; stands for the run in error texts
    sim::RunRecord record;
};

/// What the page is told, as JSON: everything of the runs that it draws, in SI. Signals are decimated so that all runs
/// together stay within `most_points` points (see decimate.h; the extremes stay), as base64 of 32-bit little-endian floats.
/// Throws scenarios::ScenarioError for a run whose scenario this version cannot read.
std::string report_runs(std::span<const ReportedRun> runs, std::size_t most_points);

/// The whole page. Throws std::runtime_error when the program was built without it.
std::string report_page(std::span<const ReportedRun> runs);

void add_report(Command program, std::function<int()>& action);

} // namespace needleturn
