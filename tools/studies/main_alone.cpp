#include "tools/studies/main_alone.h"

#include "scenarios/plausibility.h"
#include "tools/studies/flow_map.h"
#include "tools/studies/outlets.h"
#include "tools/studies/sticking_stem.h"

#include <algorithm>
#include <cmath>

namespace needleturn {

namespace {

using scenarios::Scenario;

Scenario main_alone(Scenario scenario, std::size_t i) {
    // A first step stays: it brings the pressure.
    const auto name = scenario.stages.at(i).name;
    std::erase_if(scenario.stages,
                  [&](const auto& stage) { return !stage.first_step && stage.name != name; });
    auto& main = scenario.stages.front();
    main.cock.reset();
    main.outlet_cock.reset();
    main.bleed.reset();
    main.air_in_cover = {};
    scenario.adjustments.clear();
    return scenario;
}

/// While `flow` is wanted; without its modes, of which nobody asks here.
FlowMap::Point carried_alone(const Scenario& scenario, std::size_t i, double flow) {
    const SteadyStates states(main_alone(scenario, i));
    return states.carried(flow, states.at(flow));
}

} // namespace

double flowing_pressure(const Scenario& scenario, std::size_t i, double flow) {
    return carried_alone(scenario, i, flow).outlet_pressure;
}

double delivered_flow(const Scenario& scenario, std::size_t i, double flow) {
    return carried_alone(scenario, i, flow).flow;
}

double minimum_flow(const Scenario& scenario, std::size_t i) {
    constexpr std::size_t points = 60;
    const auto alone = without_friction(main_alone(scenario, i));
    auto range = whole_range(alone);
    range.points = points;
    return flow_map(alone, range).minimum_continuous_flow();
}

double cracked_cock(const Scenario& scenario, std::size_t i, double flow, double above) {
    constexpr double least = 0.1e5; // Pa, across the cock
    double passed = 0;
    visit_shares(scenario, shares_of(scenario),
                 [&](const std::string&, const scenarios::Demand& demand, double share) {
                     if (share > 0)
                         passed += share * flow * std::sqrt(above / demand.at_pressure);
                 });
    const double left = scenarios::highest_inlet_pressure(scenario, scenario.stages[i])
                        - scenarios::standing_head(scenario) - above;
    const double full =
        scenarios::cock_capacity_of(scenario.stages[i].hardware) * std::sqrt(std::max(left, least));
    return std::min(std::sqrt(passed / full), 1.0);
}

} // namespace needleturn
