#include "tools/studies/delivery.h"

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/demands.h"
#include "scenarios/plausibility.h"
#include "sim/equilibrium.h"
#include "tools/studies/simulate.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Control;
using scenarios::Demand;
using scenarios::Scenario;

/// What every demand wants at one moment, m3/s, in the order of visit_demands.
using Wanted = std::vector<double>;

/// Wants as much everywhere.
bool covers(const Wanted& a, const Wanted& b) { return std::ranges::equal(a, b, std::greater_equal{}); }

std::vector<Wanted> busiest_moments(const Scenario& scenario) {
    std::vector<double> times{0};
    scenarios::visit_demands(scenario, [&](const std::string&, const Demand& demand) {
        for (const auto& step : demand.steps)
            times.push_back(step.at + step.over);
    });
    std::vector<Wanted> busiest;
    for (const double time : times) {
        Wanted wanted;
        scenarios::visit_demands(scenario, [&](const std::string&, const Demand& demand) {
            wanted.push_back(scenarios::wanted_at(demand, time));
        });
        if (std::ranges::any_of(busiest, [&](const Wanted& other) { return covers(other, wanted); }))
            continue;
        std::erase_if(busiest, [&](const Wanted& other) { return covers(wanted, other); });
        busiest.push_back(std::move(wanted));
    }
    return busiest;
}

/// The station at its best, and nothing that changes.
Scenario at_its_best(Scenario scenario) {
    for (const auto& adjustment : scenario.adjustments) {
        auto& stage = scenario.stages[adjustment.stage];
        if (adjustment.what == Control::set_pressure)
            stage.set_pressure = std::max(stage.set_pressure, adjustment.to);
        if (adjustment.what == Control::sustaining_pressure)
            stage.sustaining_pressure = std::min(*stage.sustaining_pressure, adjustment.to);
        if (adjustment.what == Control::cock)
            stage.cock = std::max(*stage.cock, adjustment.to);
        if (adjustment.what == Control::outlet_cock)
            stage.outlet_cock = std::max(*stage.outlet_cock, adjustment.to);
    }
    hold_still(scenario);
    for (auto& stage : scenario.stages)
        stage.bleed.reset();
    return scenario;
}

/// What the steady state shows.
struct Delivered {
    std::vector<double> flows; ///< m3/s, to each demand
    std::string held_back_by;  ///< as in Delivery
};

Delivered delivered_to(const Scenario& scenario, const std::vector<std::string>& names) {
    auto installation = scenarios::build(scenario);
    const models::Station station(std::move(installation.parts));
    const StationSystem system(station, std::move(installation.drives));
    const auto y = steady_start(scenario, installation.air, station, system);
    std::vector<double> values(station.states().size() + station.drives().size());
    std::vector<double> signals(station.signals().size());
    system.values(0, y.data(), values.data());
    station.observe(values, signals);
    Delivered delivered;
    for (std::size_t i = 0; i < station.parts().stages.size(); ++i) {
        const auto& stage = station.parts().stages[i];
        if (stage.sustaining && stage.sustains(station.stage(i), values.data()))
            delivered.held_back_by = stage.name;
    }
    for (const auto& name : names) {
        const auto found = std::ranges::find(station.signals(), name + ".flow", &Quantity::name);
        delivered.flows.push_back(signals[static_cast<std::size_t>(found - station.signals().begin())]);
    }
    return delivered;
}

} // namespace

void hold_still(Scenario& scenario) {
    scenario.adjustments.clear();
    for (const auto& step : scenario.supply.steps)
        scenario.supply.pressure = std::max(scenario.supply.pressure, step.to);
    if (auto& strainer = scenario.supply.strainer)
        for (const auto& step : strainer->steps)
            strainer->open = std::max(strainer->open, step.to);
    hold_supply(scenario);
    for (auto& stage : scenario.stages)
        stage.air_in_cover = {};
    scenarios::visit_demands(scenario, [](const std::string&, Demand& demand) { demand.steps.clear(); });
}

bool Delivery::far_short() const { return scenarios::far_short(delivered, wanted); }

std::vector<Delivery> deliveries(const Scenario& scenario) {
    auto best = at_its_best(scenario);
    std::vector<std::string> names;
    scenarios::visit_demands(best, [&](const std::string& name, const Demand&) { names.push_back(name); });
    std::vector<Delivery> list;
    for (const auto& wanted : busiest_moments(scenario)) {
        std::size_t next = 0;
        scenarios::visit_demands(best,
                                 [&](const std::string&, Demand& demand) { demand.start = wanted[next++]; });
        try {
            const auto delivered = delivered_to(best, names);
            for (std::size_t i = 0; i < names.size(); ++i)
                list.push_back({names[i], wanted[i], delivered.flows[i], delivered.held_back_by});
        } catch (const sim::NoEquilibrium&) { // then nothing is known of this moment
        }
    }
    return list;
}

} // namespace needleturn
