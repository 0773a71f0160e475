#include "scenarios/connected.h"

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
            change.at + change.over <= time ? change.to : on_the_way;
    }
    return stages;
}

double static_pressure(const std::vector<Stage>& stages) {
    const bool none = std::ranges::all_of(stages, &Stage::shut_off);
    double highest = 0;
    for (const auto& stage : stages)
        if (none || !stage.shut_off())
            highest = std::max(highest, stage.set_pressure);
    return highest;
}

} // namespace needleturn::scenarios
