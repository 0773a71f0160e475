/// Every place where a scenario lets water out, looked at in one way.
#pragma once

#include "scenarios/scenario.h"
#include "sim/contract/schedule.h"

#include <cmath>
#include <string>

namespace needleturn::scenarios {

/// What the demand at the far end is called.
inline const std::string far_end_outlet = "demand";

/// What limits call the line between a first step and the station: a place, at the station's inlet, where pressures are judged as
/// those of an outlet are.
inline constexpr const char* between_the_steps = "between";

/// Calls visit(name, demand) for the demand at the far end, each consumer on the inlet side and each branch, in this order.
/// S: Scenario, const or not.
template <class S, class Visit> void visit_demands(S& scenario, const Visit& visit) {
    visit(far_end_outlet, scenario.demand);
    for (auto& consumer : scenario.supply.consumers)
        visit(consumer.name, consumer.demand);
    for (auto& branch : scenario.downstream.branches)
        visit(branch.name, branch.demand);
}

/// The same for those behind the station alone, its outlets: the demand at the far end and each branch, in this order.
template <class S, class Visit> void visit_outlets(S& scenario, const Visit& visit) {
    visit(far_end_outlet, scenario.demand);
    for (auto& branch : scenario.downstream.branches)
        visit(branch.name, branch.demand);
}

/// Calls visit(relief valve, its branch or null) for each relief valve of the station, those of branches last.
template <class S, class Visit> void visit_reliefs(S& scenario, const Visit& visit) {
    for (auto& relief : scenario.downstream.reliefs)
        visit(relief, static_cast<const Branch*>(nullptr));
    for (auto& branch : scenario.downstream.branches)
        for (auto& relief : branch.reliefs)
            visit(relief, &branch);
}

inline bool has_relief_valve(const Scenario& scenario) {
    bool any = false;
    visit_reliefs(scenario, [&](const ReliefValve&, const Branch*) { any = true; });
    return any;
}

/// Supply and strainer stay as they begin.
inline void hold_supply(Scenario& scenario) {
    scenario.supply.steps.clear();
    if (scenario.supply.strainer)
        scenario.supply.strainer->steps.clear();
}

/// m3/s that `demand` wants at a time, s, every change complete that was complete by then.
inline double wanted_at(const Demand& demand, double time) {
    double wanted = demand.start;
    for (const auto& step : demand.steps)
        if (step.at + step.over <= time + one_instant)
            wanted = step.to;
    return wanted;
}

/// m3/s that `demand` wants when an event that begins at `time`, s, ends what was before: no change that begins then counts, every
/// one that is complete by then does. Times that differ by less than `nearly`, s, are the same.
inline double wanted_before(const Demand& demand, double time, double nearly) {
    double wanted = demand.start;
    for (const auto& step : demand.steps)
        if (step.at < time - nearly && step.at + step.over <= time + nearly)
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

} // namespace needleturn::scenarios
