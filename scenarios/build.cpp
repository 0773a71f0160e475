#include "scenarios/build.h"

#include "scenarios/connected.h"
#include "scenarios/controls.h"
#include "scenarios/demands.h"
#include "scenarios/line_layer.h"
#include "scenarios/liquid.h"
#include "scenarios/part_builder.h"

#include <algorithm>
#include <limits>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::scenarios {

namespace {

/// One schedule for each drive of the station, by its name. Throws std::logic_error where table of controls and parts differ.
std::vector<Schedule> in_order(NamedDrives named, const models::Station& station) {
    std::vector<Schedule> drives;
    for (const auto& drive : station.drives()) {
        auto found = named.extract(drive.name);
        if (found.empty())
            throw std::logic_error("nothing drives " + drive.name);
        drives.push_back(std::move(found.mapped()));
    }
    if (!named.empty())
        throw std::logic_error("the station has no drive of the name " + named.begin()->first);
    return drives;
}

/// The shortest time that any change of pressure or flow takes, s; infinity if nothing changes. A cock shuts off a flow; a screw
/// leaves its change to the valve.
double fastest_change(const Scenario& scenario) {
    double fastest = std::numeric_limits<double>::infinity();
    const auto look = [&](const std::vector<Step>& steps) {
        for (const auto& step : steps)
            fastest = std::min(fastest, step.over);
    };
    look(scenario.supply.steps);
    if (scenario.supply.strainer)
        look(scenario.supply.strainer->steps);
    visit_demands(scenario, [&](const std::string&, const Demand& demand) { look(demand.steps); });
    for (const auto& turned : scenario.adjustments)
        if (turned.what == Control::cock || turned.what == Control::outlet_cock)
            fastest = std::min(fastest, turned.over);
    return fastest;
}

} // namespace

Installation build(const Scenario& scenario, std::size_t refinement) {
    const double set = scenario.stages.front().set_pressure;
    const auto water =
        liquid_at(scenario, std::max(set, scenario.supply.pressure) + models::atmospheric_pressure);
    const PartBuilder builder(water, scenario.water.temperature, free_gas_of(scenario));

    Installation result;
    auto& parts = result.parts;
    parts.trace = builder.trace();
    result.fastest_change = fastest_change(scenario);
    const Fineness fineness{result.fastest_change, refinement};
    NamedDrives drives;
    const auto first_step = lay_line(builder, water, scenario, fineness, parts, drives);
    for (const auto& run : parts.pipes)
        result.grids.push_back(fineness.grid(run));
    if (refinement > 1) {
        // Cells that a scenario states are not refined. The coarse grid shows it; the rules alone may give the same number.
        const auto coarse = build(scenario).grids;
        for (std::size_t i = 0; i < coarse.size(); ++i) {
            auto& grid = result.grids[i];
            grid.refinement = grid.cells / coarse[i].cells;
            grid.as_stated = coarse[i].as_stated || (grid.resolved && grid.refinement == 1);
        }
    }
    std::vector<std::size_t> covers; // among the pilot-operated stages
    for (const auto& stage : scenario.stages) {
        covers.push_back(parts.stages.size());
        const double inlet = inlet_pressure(scenario, stage);
        std::optional<models::BetweenPoints>* between = nullptr;
        if (const auto* pilot_operated = stage.pilot_operated()) {
            between = &parts.stages.emplace_back(builder.stage(stage, *pilot_operated, inlet)).cocks.between;
            result.air.push_back(stage.air_in_cover);
        } else {
            between = &parts.direct_stages.emplace_back(builder.stage(stage, *stage.direct_acting(), inlet))
                           .cocks.between;
        }
        if (stage.first_step)
            *between = first_step;
    }
    for (const auto& control : controls_of(scenario)) {
        if (!control.entry().of_stage())
            continue;
        const auto changes = changes_of(scenario, control);
        if (control.entry().at_once())
            for (const auto& change : changes)
                result.air_changes.push_back({change.at, covers[control.index], change.to});
        else
            drives.emplace(control.name, schedule(start_of(scenario, control), changes,
                                                  [](double value) { return value; }));
    }
    std::ranges::stable_sort(result.air_changes, {}, &AirChange::at);
    result.drives = in_order(std::move(drives), models::Station(parts));
    return result;
}

} // namespace needleturn::scenarios
