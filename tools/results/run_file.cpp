#include "tools/results/run_file.h"

#include "models/laws/air.h"
#include "models/parts/demand.h"
#include "models/station_parts.h"
#include "scenarios/build.h"
#include "scenarios/demands.h"
#include "scenarios/in_both_systems.h"
#include "tools/results/doubts.h"
#include "tools/results/scenario_told.h"
#include "tools/results/told_texts.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn {
namespace {

using scenarios::Scenario;
using Numbers = std::vector<double>;
using Words = std::vector<std::string>;

sim::NamedTable warnings_table(const Scenario& scenario, const std::vector<SurgeVerdict>& surges,
                               Words warnings) {
    const auto* const meaning = "what makes the question doubtful";
    sim::Table table{{"warning", "", meaning, std::move(warnings)}};
    add_in_both_systems(table, "warning", meaning,
                        scenarios::in_both_systems(
                            scenario, [&](const Scenario& told) { return warnings_of(told, surges); }));
    return {"warnings", std::move(table)};
}

sim::NamedTable pipes_table(const models::StationParts& parts) {
    Words name, from, to;
    Numbers length, area, density, wave_speed, cells;
    for (const auto& run : parts.pipes) {
        name.push_back(run.name);
        from.push_back(run.from ? parts.points[*run.from].name : "source");
        to.push_back(parts.points[run.to].name);
        length.push_back(run.pipe.length);
        area.push_back(run.pipe.area());
        density.push_back(run.pipe.density);
        wave_speed.push_back(run.pipe.speed());
        cells.push_back(static_cast<double>(run.pipe.cells));
    }
    return {"pipes",
            {{"name", "", "of the pipe, as its signals begin", name},
             {"from", "", "pressure point at its upstream end", from},
             {"to", "", "pressure point at its downstream end", to},
             {"length", "m", "of the pipe", length},
             {"area", "m2", "of its bore", area},
             {"density", "kg m-3", "of the water in it", density},
             {"wave_speed", "m s-1", "of pressure waves in it", wave_speed},
             {"cells", "1", "that it is divided into", cells}}};
}

/// What such a demand wants is what it passes at the pressure that it is stated at, its capacity times the root.
sim::NamedTable outlets_table(const Scenario& scenario) {
    Words name;
    Numbers root;
    scenarios::visit_demands(scenario, [&](const std::string& demand_name, const scenarios::Demand& demand) {
        if (demand.kind == scenarios::Demand::Kind::outlet) {
            name.push_back(demand_name);
            root.push_back(models::Outlet{}.flow(1.0, demand.at_pressure));
        }
    });
    return {"outlets",
            {{"name", "", "demand that is an opening to the air", name},
             {"root", "Pa0.5", "flow wanted per capacity: root of the pressure it is stated at", root}}};
}

sim::NamedTable water_table(const models::StationParts& parts) {
    return {"water",
            {{"vapour_pressure", "Pa", "gauge pressure at which the water boils",
              Numbers{parts.trace.vapour_pressure_abs - models::atmospheric_pressure}}}};
}

} // namespace

void add_setup(sim::RunRecord& record, const Scenario& scenario, const std::vector<SurgeVerdict>& surges) {
    const auto parts = scenarios::build(scenario).parts;
    auto warnings = warnings_of(scenario, surges);
    record.warnings = fmt::format("{}", fmt::join(warnings, "\n"));
    add_in_both_systems(record.events, "what", "what happens",
                        scenarios::in_both_systems(scenario, names_of_events));
    record.setup = scenario_tables(scenario);
    for (auto table : {warnings_table(scenario, surges, std::move(warnings)), pipes_table(parts),
                       outlets_table(scenario), water_table(parts)})
        if (!std::visit([](const auto& rows) { return rows.empty(); }, table.columns.front().rows))
            record.setup.push_back(std::move(table));
}

} // namespace needleturn
