/// What a run shows of the strainer ahead of its station.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/verdict.h"

#include <string>
#include <vector>

namespace needleturn {

/// A line for each event: what the strainer takes and leaves as the event ends. Empty: there is none.
std::string strainer_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict);

} // namespace needleturn
