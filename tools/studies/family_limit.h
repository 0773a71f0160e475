/// The flow above which a station is steady, over the valves that the ranges of its hardware allow.
#pragma once

#include "tools/studies/flow_map.h"
#include "tools/studies/valve_family.h"

#include <cstddef>
#include <functional>
#include <vector>

namespace needleturn {

struct FamilyLimit {
    /// m3/s by valve: the minimum continuous flow, above which small motions of stems without friction die away. 0: at every flow
    /// of the range they do; infinity: not at the highest, or the valve has no steady state there.
    std::vector<double> by_valve;
    double stated = 0; ///< of the valve with the values as stated
    double half = 0;   ///< as many valves are steady above it as are not
    double of_95 = 0;  ///< 95 of 100 of these valves are steady above it
    double of_95_of_all =
        0; ///< so are 95 of 100 of all such valves, with 95 % confidence; NaN: too few valves to say
    InputRanking inputs; ///< what moves it
};

/// Of small motions alone: hunting is not followed. `threads` valves at a time; `go_on` is asked after every valve, by one thread at a
/// time: false ends the search, and the result is of no use. Throws scenarios::ScenarioError, and sim::NoEquilibrium of the stated valve.
/// `seen` is handed the map of every drawn valve that has one, by one thread at a time.
FamilyLimit family_limit(const FamilyQuestion& question, const FlowSweep& sweep, unsigned threads,
                         const std::function<bool()>& go_on,
                         const std::function<void(const FlowMap& map)>& seen = {});

} // namespace needleturn
