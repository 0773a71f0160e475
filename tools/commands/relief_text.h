/// What a run shows of the relief valves of its station.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/verdict.h"

#include <string>
#include <vector>

namespace needleturn {

/// "at the far end": where a relief valve stands, of the branch or of the downstream main.
std::string relief_place(const scenarios::ReliefValve& relief, const scenarios::Branch* branch);

/// Lines for each relief valve: what it is, each event in which it is open, else how far the pressure stays below its set
/// pressure. Empty: there is none.
std::string relief_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict);

} // namespace needleturn
