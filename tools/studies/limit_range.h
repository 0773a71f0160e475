/// How far the limit of hunting moves with what nobody knows well.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/flow_map.h"

#include <functional>

namespace needleturn {

/// What is varied: the storage of the lines (beside the valves, at far ends, at the inlet) by this share either way. Common
/// practice, no source.
inline constexpr double storage_spread = 0.2;

/// The least and the greatest minimum continuous flow, m3/s delivered, over that, `scenario` as it is included;
/// infinite where an end of it has none. Of small motions of stems without friction (sticking_stem.h): hunting is not followed. `go_on` is
/// asked after every flow, by one thread at a time; false ends the search, and the range is not to be used. Throws
/// sim::NoEquilibrium.
struct LimitRange {
    double low = 0, high = 0;
};
LimitRange limit_range(const scenarios::Scenario& scenario, const FlowSweep& sweep,
                       const std::function<bool()>& go_on = {});

} // namespace needleturn
