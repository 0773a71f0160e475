/// The file of needleturn run: what it tells beside the recording and the verdict.
#pragma once

#include "scenarios/scenario.h"
#include "sim/recording.h"
#include "tools/studies/surge_analysis.h"

namespace needleturn {

/// Adds to the record of a run of `scenario`, which made `surges`, all that its readers ask of the station and the question:
///
///     warnings   what makes the question doubtful (attribute), and as a table in both systems of units
///     events     what happens, in both systems of units
///     settings, stages    scenario_tables
///     pipes      name, from, to, length, area, density, wave_speed, cells; absent without pipes
///     outlets    name of a demand that is an opening to the air, and the root of the pressure at which it is stated
///     water      density, and the gauge pressure at which it boils
void add_setup(sim::RunRecord& record, const scenarios::Scenario& scenario,
               const std::vector<SurgeVerdict>& surges);

} // namespace needleturn
