/// What a run shows of the relief valves of its station.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/verdict.h"

#include <string>
#include <vector>

namespace needleturn {

/// Lines for each relief valve: what it is, each event in which it is open, else how far the pressure stays below its set
/// pressure. Empty: there is none.
std::string relief_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict);

} // namespace needleturn
