/// What makes the question of a scenario doubtful: files tell it, and every command that reads a scenario prints it.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/surge_analysis.h"

#include <string>
#include <vector>

namespace needleturn {

/// scenarios::static_warnings, and one line for each demand that falls far short. Empty: nothing is doubtful.
std::vector<std::string> warnings_of(const scenarios::Scenario& scenario);

/// The same, and one line for each stage at whose inlet a run of the scenario passes its pressure rating.
std::vector<std::string> warnings_of(const scenarios::Scenario& scenario,
                                     const std::vector<SurgeVerdict>& surges);

} // namespace needleturn
