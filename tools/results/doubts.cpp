#include "tools/results/doubts.h"

#include "scenarios/demands.h"
#include "scenarios/plausibility.h"
#include "scenarios/units.h"
#include "tools/studies/delivery.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>

namespace needleturn {

namespace {

/// Does any event end with all outlets shut?
bool ends_with_nothing_drawn(const scenarios::Scenario& scenario) {
    const double interval = scenario.run.sample_interval / static_cast<double>(stride_of(scenario));
    auto events = events_of(scenario);
    events.push_back({scenario.run.duration, scenario.run.duration, ""});
    for (std::size_t i = 1; i < events.size(); ++i) {
        double wanted = 0;
        scenarios::visit_outlets(scenario, [&](const std::string&, const scenarios::Demand& demand) {
            wanted += scenarios::wanted_before(demand, events[i].at, 0.5 * interval);
        });
        if (wanted <= nothing_flows)
            return true;
    }
    return false;
}

} // namespace

std::vector<std::string> warnings_of(const scenarios::Scenario& scenario) {
    auto warnings = scenarios::static_warnings(scenario);
    const auto flow = [&](double value) {
        return scenarios::format_quantity(value, scenarios::Dimension::flow, scenario.units);
    };
    std::vector<std::string> told;
    for (const auto& delivery : deliveries(scenario)) {
        if (!delivery.far_short() || std::ranges::find(told, delivery.demand) != told.end())
            continue;
        told.push_back(delivery.demand);
        warnings.push_back(fmt::format(
            "{} wants {} and gets {} at the most: {}",
            delivery.demand == "demand" ? "the demand" : delivery.demand, flow(delivery.wanted),
            flow(std::max(delivery.delivered, 0.0)),
            delivery.held_back_by.empty()
                ? "the supply, the station or the pipes pass no more"
                : fmt::format("the sustaining pilot of {} holds the inlet up and lets no more pass",
                              delivery.held_back_by)));
    }
    if (scenario.accept.static_rise && !ends_with_nothing_drawn(scenario))
        warnings.emplace_back(
            "no event of the scenario ends with nothing drawn: accept.static_rise is held against "
            "nothing in its run");
    return warnings;
}

std::vector<std::string> warnings_of(const scenarios::Scenario& scenario,
                                     const std::vector<SurgeVerdict>& surges) {
    auto warnings = warnings_of(scenario);
    const auto pressure = [&](double value) {
        return scenarios::format_quantity(value, scenarios::Dimension::pressure, scenario.units);
    };
    const auto events = events_of(scenario);
    for (const auto& stage : scenario.stages) {
        const double rating = scenarios::pressure_rating_of(stage.hardware);
        // What the supply brings by itself is told already.
        double highest =
            std::max(rating, scenarios::highest_inlet_pressure(scenario, stage) + scenarios::gauge_division);
        std::size_t when = surges.size();
        for (std::size_t i = 0; i < surges.size(); ++i)
            for (const auto& point : surges[i].points)
                if (point.point == (stage.first_step ? "first_step_inlet" : "inlet")
                    && point.highest > highest) {
                    highest = point.highest;
                    when = i;
                }
        if (when < surges.size())
            warnings.push_back(fmt::format(
                "the inlet of {}, which is rated for {}, rises to {} in this run (at {:.4g} s: {})",
                stage.name, pressure(rating), pressure(highest), events.at(when).at, events.at(when).what));
    }
    return warnings;
}

} // namespace needleturn
