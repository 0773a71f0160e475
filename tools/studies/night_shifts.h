/// What night settings do along a flow map: where they change over, and where that leaves two steady states.
#pragma once

#include "tools/studies/flow_map.h"

#include <Eigen/Core>

namespace needleturn {

/// Adds to the map what happens between the points `low` and `high`, next to each other in the sweep; `near` is the steady state at
/// `high`. Nothing without night settings.
void find_night_shifts(FlowMap& map, const SteadyStates& states, const FlowMap::Point& low,
                       const FlowMap::Point& high, const Eigen::VectorXd& near);

} // namespace needleturn
