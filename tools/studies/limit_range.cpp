#include "tools/studies/limit_range.h"

#include "tools/studies/crew.h"
#include "tools/studies/sticking_stem.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <mutex>
#include <vector>

namespace needleturn {
namespace {

using scenarios::Scenario;

void scale_storage(Scenario& scenario, double factor) {
    const auto scale = [factor](auto& side) {
        side.storage *= factor;
        for (auto& piece : side.pipes_beside)
            piece.length *= factor;
    };
    scale(scenario.supply);
    scale(scenario.downstream);
    scenario.downstream.far_end_storage *= factor;
    for (auto& branch : scenario.downstream.branches)
        branch.far_end_storage *= factor;
}

} // namespace

LimitRange limit_range(const Scenario& scenario, const FlowSweep& sweep, const std::function<bool()>& go_on) {
    // As close as 60 over the usual three decades.
    constexpr double fewest = 6, per_decade = 20;
    const auto points = static_cast<std::size_t>(
        std::max(fewest, std::ceil(per_decade * std::log10(sweep.high / sweep.low))));
    std::vector<Scenario> ends;
    for (const double factor : {1 - storage_spread, 1.0, 1 + storage_spread})
        scale_storage(ends.emplace_back(without_friction(scenario)), factor);
    std::mutex one_at_a_time;
    const auto asked = [&] {
        const std::scoped_lock lock(one_at_a_time);
        return !go_on || go_on();
    };
    std::vector<double> limits(ends.size());
    share_out(ends.size(), all_processors(), [&] {
        return [&](std::size_t i) {
            limits[i] = flow_map(ends[i], {sweep.low, sweep.high, points}, asked).minimum_continuous_flow();
            return true;
        };
    });
    const auto [lowest, highest] = std::ranges::minmax_element(limits);
    const LimitRange range{*lowest, std::max(*highest, 0.0)};
    return range;
}

} // namespace needleturn
