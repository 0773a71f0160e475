/// Every place where a scenario lets water out, looked at in one way.
#pragma once

#include "scenarios/scenario.h"

#include <cmath>
#include <string>

namespace needleturn::scenarios {

/// Calls visit(name, demand) for the demand at the far end, each consumer on the inlet side and each branch, in this order.
/// S: Scenario, const or not.
template <class S, class Visit> void visit_demands(S& scenario, const Visit& visit) {
    static const std::string far_end = "demand";
    visit(far_end, scenario.demand);
    for (auto& consumer : scenario.supply.consumers)
        visit(consumer.name, consumer.demand);
    for (auto& branch : scenario.downstream.branches)
        visit(branch.name, branch.demand);
}

/// m3/s that `demand` wants at a time, s, every change complete that was complete by then.
inline double wanted_at(const Demand& demand, double time) {
    double wanted = demand.start;
    for (const auto& step : demand.steps)
        if (step.at + step.over <= time)
            wanted = step.to;
    return wanted;
}

/// Is what is delivered far below what is wanted? Less than half of the pressure that an outlet's flow is stated at: 1/sqrt(2) of
/// the flow. A draw gives way where the pressure vanishes.
inline bool far_short(double delivered, double wanted) { return delivered < wanted * std::sqrt(0.5); }

/// Does any demand flutter?
inline bool flutters(const Scenario& scenario) {
    bool any = false;
    visit_demands(scenario,
                  [&](const std::string&, const Demand& demand) { any = any || demand.flutter.rms > 0; });
    return any;
}

/// The same scenario with every demand drawn evenly.
inline Scenario without_flutter(Scenario scenario) {
    visit_demands(scenario, [](const std::string&, Demand& demand) { demand.flutter = {}; });
    return scenario;
}

/// Leaves all water behind the station to the far end: branches are shut, and consumers ahead of it draw as at the start.
inline void draw_at_far_end_only(Scenario& scenario) {
    for (auto& consumer : scenario.supply.consumers)
        consumer.demand.steps.clear();
    for (auto& branch : scenario.downstream.branches) {
        branch.demand.start = 0;
        branch.demand.steps.clear();
    }
}

} // namespace needleturn::scenarios
