/// What a scenario states to change by itself: the flows of its consumers and its supply.
#pragma once

#include "scenarios/scenario.h"

namespace needleturn {

/// s from the beginning of the first change to the end of the last; 0 where nothing changes. A single jump takes 1e-3.
double time_of_own_changes(const scenarios::Scenario& scenario);

/// s: what takes longer is no part of a rehearsal; nobody stands beside a valve for a day's log. Common practice, no source.
inline constexpr double longest_own_changes = 600;

/// There are changes, and they are part of a rehearsal.
bool makes_own_changes(const scenarios::Scenario& scenario);

/// When the first of them begins, s; 0 where nothing changes.
double begin_of_own_changes(const scenarios::Scenario& scenario);

} // namespace needleturn
