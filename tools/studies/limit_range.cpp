#include "tools/studies/limit_range.h"

#include "scenarios/hardware_file.h"
#include "tools/studies/crew.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <mutex>
#include <vector>

namespace needleturn {
namespace {

using scenarios::Scenario;

void scale_storage(Scenario& scenario, double factor) {
    scenario.supply.storage *= factor;
    scenario.downstream.storage *= factor;
    scenario.downstream.far_end_storage *= factor;
    for (auto& branch : scenario.downstream.branches)
        branch.far_end_storage *= factor;
}

/// A size that does not say how large it is keeps its friction.
void rub(Scenario& scenario) {
    for (auto& stage : scenario.stages) {
        const double size = scenarios::nominal_size(scenarios::name_of(stage.hardware));
        constexpr double dn65 = 0.065; // m
        const double friction = friction_at_dn65 * size / dn65;
        if (auto* main = std::get_if<scenarios::PilotOperatedHardware>(&stage.hardware))
            main->main_valve.stem_friction = std::max(main->main_valve.stem_friction, friction);
        else if (auto* direct = std::get_if<scenarios::DirectActingHardware>(&stage.hardware))
            direct->stem_friction = std::max(direct->stem_friction, friction);
    }
}

} // namespace

LimitRange limit_range(const Scenario& scenario, const FlowSweep& sweep, const std::function<bool()>& go_on) {
    // As close as 60 over the usual three decades.
    constexpr double fewest = 6, per_decade = 20;
    const auto points = static_cast<std::size_t>(
        std::max(fewest, std::ceil(per_decade * std::log10(sweep.high / sweep.low))));
    std::vector<Scenario> corners{scenario};
    for (const double factor : {1 - storage_spread, 1 + storage_spread}) {
        scale_storage(corners.emplace_back(scenario), factor);
        rub(corners.emplace_back(corners.back()));
    }
    std::mutex one_at_a_time;
    const auto asked = [&] {
        const std::scoped_lock lock(one_at_a_time);
        return !go_on || go_on();
    };
    std::vector<double> limits(corners.size());
    share_out(corners.size(), all_processors(), [&] {
        return [&](std::size_t i) {
            limits[i] =
                flow_map(corners[i], {sweep.low, sweep.high, points}, asked).minimum_continuous_flow();
            return true;
        };
    });
    const auto [lowest, highest] = std::ranges::minmax_element(limits);
    const LimitRange range{*lowest, std::max(*highest, 0.0)};
    return range;
}

} // namespace needleturn
