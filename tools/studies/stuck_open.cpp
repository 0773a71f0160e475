#include "tools/studies/stuck_open.h"

#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/demands.h"
#include "sim/equilibrium.h"
#include "tools/studies/delivery.h"
#include "tools/studies/simulate.h"

#include <cstddef>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Scenario;

/// Nothing changes, nothing is drawn behind the station, the supply stands at its highest.
void at_rest(Scenario& scenario) {
    hold_still(scenario);
    // Where a valve rests does not hang on how far its needles are open, but behind a shut one it rests anywhere.
    for (auto& stage : scenario.stages)
        stage.opening_control = stage.closing_control = 1;
    scenarios::visit_outlets(scenario,
                             [](const std::string&, scenarios::Demand& demand) { demand.start = 0; });
}

/// A stage of the station and what it is among its kind.
struct Largest {
    std::string name;
    std::size_t index = 0;
    bool direct = false;
    double capacity = 0;
};

Largest largest_of(const models::StationParts& parts) {
    Largest largest;
    const auto look = [&](const auto& stages, bool direct) {
        for (std::size_t i = 0; i < stages.size(); ++i)
            if (const double capacity = stages[i].valve.trim.capacity;
                !stages[i].cocks.between && capacity > largest.capacity)
                largest = {stages[i].name, i, direct, capacity};
    };
    look(parts.stages, false);
    look(parts.direct_stages, true);
    return largest;
}

/// A pilot-operated valve passes what its open trim does, wherever its stem stands. A direct-acting one is opened by its spring,
/// screwed in until no pressure of the supply shuts it.
void open_wide(const Largest& stage, double supply, scenarios::Installation& installation) {
    auto& parts = installation.parts;
    if (stage.direct) {
        const auto& valve = parts.direct_stages[stage.index].valve;
        const double wide = 2 * (supply + valve.spring_rate * valve.full_lift / valve.diaphragm_area);
        const models::Station station(parts);
        installation.drives[station.direct_stage(stage.index).set - station.states().size()] = Schedule(wide);
        return;
    }
    auto& valve = parts.stages[stage.index];
    constexpr double nothing = 1e-6; // of its capacity: what is left to the trim
    valve.leaks.seat = stage.capacity;
    valve.valve.trim.capacity *= nothing;
}

} // namespace

std::optional<StuckOpen> stuck_open(Scenario scenario) {
    if (!scenarios::has_relief_valve(scenario))
        return {};
    at_rest(scenario);
    auto installation = scenarios::build(scenario);
    const auto largest = largest_of(installation.parts);
    open_wide(largest, scenario.supply.pressure, installation);
    StuckOpen found;
    found.stage = largest.name;
    const models::Station station(std::move(installation.parts));
    const StationSystem system(station, std::move(installation.drives));
    try {
        const auto y = steady_start(scenario, installation.air, station, system);
        std::vector<double> values(station.states().size() + station.drives().size());
        system.values(0, y.data(), values.data());
        const auto& valves = station.parts().relief_valves;
        for (std::size_t i = 0; i < valves.size(); ++i) {
            const double lift = values[station.relief_valve(i).lift],
                         pressure = values[station.point(valves[i].at)];
            found.reliefs.push_back({pressure, valves[i].flow(lift, pressure), lift});
            found.flow += found.reliefs.back().flow;
        }
        found.found = true;
    } catch (const sim::NoEquilibrium&) { // told as not found
    }
    return found;
}

} // namespace needleturn
