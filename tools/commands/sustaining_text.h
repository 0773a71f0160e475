/// What a run shows of the sustaining pilots of its stages.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/verdict.h"

#include <string>
#include <vector>

namespace needleturn {

/// A line for each event and stage: who decides as the event ends, and what the inlet then reads. Empty: there is no such pilot.
std::string sustaining_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict);

} // namespace needleturn
