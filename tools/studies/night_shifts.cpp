#include "tools/studies/night_shifts.h"

#include "tools/studies/night_analysis.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace needleturn {

namespace {

/// Is there another steady state at `low`, one that is come to from more flow? Then the station jumps beyond it.
bool find_two_states(FlowMap& map, const SteadyStates& states, const FlowMap::Point& low,
                     const Eigen::VectorXd& near) {
    const auto other = states.carried(low.wanted, states.at(low.wanted, near));
    if (std::abs(other.outlet_pressure - low.outlet_pressure) < FlowMap::what_comes_back)
        return false;
    const auto [less, more] = std::minmax(low.outlet_pressure, other.outlet_pressure);
    if (!map.two_states)
        map.two_states = {low.flow, low.flow, less, more};
    auto& two = *map.two_states;
    two.to = std::max(two.to, low.flow);
    if (more - less > two.high - two.low) {
        two.low = less;
        two.high = more;
    }
    return true;
}

} // namespace

void find_night_shifts(FlowMap& map, const SteadyStates& states, const FlowMap::Point& low,
                       const FlowMap::Point& high, const Eigen::VectorXd& near) {
    if (std::ranges::all_of(low.stages, [](const auto& stage) { return std::isnan(stage.below_day); }))
        return;
    const bool jumps = find_two_states(map, states, low, near);
    for (std::size_t stage = 0; stage < map.stages.size(); ++stage) {
        if (std::isnan(low.stages[stage].below_day))
            continue;
        for (const bool day : {false, true}) {
            const auto begun = [&](const FlowMap::Point& point) {
                const auto& at = point.stages[stage];
                return day ? at.below_day <= at_an_end : at.above_night > at_an_end;
            };
            if (begun(low) || !begun(high))
                continue;
            const auto first = jumps && !day ? low : states.first_of(low, high, near, begun);
            map.night_shifts.push_back({stage, day, first.flow, first.outlet_pressure});
        }
    }
}

} // namespace needleturn
