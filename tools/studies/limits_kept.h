/// Holds what an event shows against the limits of the scenario.
#pragma once

#include "tools/studies/verdict.h"

#include <vector>

namespace needleturn {

/// SI: the figure of an event that a limit is held against. NaN where it means nothing; infinity: not known, or never.
double measured(scenarios::Limit limit, const EventVerdict& event);

/// What is not kept, and what is not known to be kept, in the order of scenarios::acceptance_limits.
std::vector<Finding> findings_of(const EventVerdict& event, const scenarios::Accept& accept);

} // namespace needleturn
