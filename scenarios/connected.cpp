#include "scenarios/connected.h"

#include "sim/contract/schedule.h"

#include <algorithm>

namespace needleturn::scenarios {

std::vector<Stage> stages_at(const Scenario& scenario, double time) {
    auto stages = scenario.stages;
    constexpr double on_the_way = 0.5;
    for (const auto& change : scenario.adjustments) {
        if (change.at > time || (change.what != Control::cock && change.what != Control::outlet_cock))
            continue;
        auto& stage = stages[change.stage];
        (change.what == Control::cock ? stage.cock : stage.outlet_cock) =
            change.at + change.over <= time + one_instant ? change.to : on_the_way;
    }
    return stages;
}

double static_pressure(const std::vector<Stage>& stages, bool first_step) {
    double delivering = 0, of_all = 0;
    bool none = true;
    for (const auto& stage : stages) {
        if (stage.first_step != first_step)
            continue;
        of_all = std::max(of_all, stage.set_pressure);
        if (stage.shut_off())
            continue;
        none = false;
        delivering = std::max(delivering, stage.set_pressure);
    }
    return none ? of_all : delivering;
}

std::vector<Stage> by_night(std::vector<Stage> stages) {
    for (auto& stage : stages)
        stage.set_pressure = lowest_setting(stage);
    return stages;
}

double inlet_pressure(const Scenario& scenario, const Stage& stage) {
    const double supply = scenario.supply.pressure;
    if (stage.first_step || !in_two_steps(scenario.stages))
        return supply;
    return std::min(supply, static_pressure(scenario.stages, true));
}

} // namespace needleturn::scenarios
