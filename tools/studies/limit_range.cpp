#include "tools/studies/limit_range.h"

#include "scenarios/hardware_file.h"

#include <algorithm>
#include <limits>

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

LimitRange limit_range(const Scenario& scenario, const FlowSweep& sweep) {
    constexpr std::size_t points = 60;
    LimitRange range{std::numeric_limits<double>::infinity(), 0};
    const auto include = [&](const Scenario& corner) {
        const double limit = flow_map(corner, {sweep.low, sweep.high, points}).minimum_continuous_flow();
        range.low = std::min(range.low, limit);
        range.high = std::max(range.high, limit);
    };
    include(scenario);
    for (const double factor : {1 - storage_spread, 1 + storage_spread}) {
        auto corner = scenario;
        scale_storage(corner, factor);
        include(corner);
        rub(corner);
        include(corner);
    }
    return range;
}

} // namespace needleturn
