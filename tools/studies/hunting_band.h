/// Flows over which a station goes on hunting once it hunts, whether or not small motions grow there.
#pragma once

#include "tools/studies/flow_map.h"

#include <cstddef>
#include <functional>
#include <mutex>
#include <string>
#include <vector>

namespace needleturn {

/// What is looked at: hunting is a lasting oscillation of the outlet by visible_flicker or more (tools/studies/verdict.h).
struct HuntingSearch {
    unsigned threads = 1;
    /// Steps along the logarithm of the wanted flow; upwards, where the end of hunting matters most, they are closer.
    double step_up = 0.15, step_down = 0.4;
    /// Of the flow: width of the bracket of an end, which a parabola then narrows (sim/cycle_branch.h).
    double precision = 0.01;
    /// Steady flows that are knocked, at about equal ratios, and as many unsteady ones where nothing hunts.
    std::size_t knocked_flows = 6;
    /// Called after every flow that was tried, by several threads, one at a time; false ends the search.
    std::function<bool()> go_on = {};
};

/// The same for each row of a map with two axes: coarser.
inline HuntingSearch coarse(HuntingSearch search) {
    search.step_up = 0.25;
    search.step_down = 0.8;
    search.precision = 0.03;
    search.knocked_flows = 3;
    return search;
}

/// Fills map.hunting and map.knocks: each band of unsteady flows is set hunting and the cycle is followed up and down from there
/// (sim/cycle_branch.h), across other bands too, until it ends; then unsteady flows that it leaves and flows that are steady are
/// knocked, one large knock up and one down each, and what goes on hunting there is followed likewise. `map` is the flow map of
/// `scenario`. Throws sim::NoEquilibrium and sim::IntegrationFailure.
void find_hunting(const scenarios::Scenario& scenario, FlowMap& map, const HuntingSearch& search);

} // namespace needleturn
