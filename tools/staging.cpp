#include "tools/staging.h"

#include "scenarios/hardware_file.h"
#include "scenarios/read_scenario.h"
#include "scenarios/static_setting.h"
#include "scenarios/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::Scenario;
using Folders = std::span<const std::filesystem::path>;

constexpr const char* main_family = "pilot-operated";
constexpr const char* direct_family = "direct-acting";
/// A bypass is one of the smallest sizes: a trickle cuts the seat of a larger one. Common practice, no source.
constexpr std::size_t bypass_sizes = 2;

/// A scenario of one stage of this hardware: what the reader makes of it.
Scenario with_hardware(const std::string& name, double bore, Folders folders) {
    const bool pilot_operated = name.starts_with(main_family);
    const auto text =
        fmt::format(R"(title = "staged station"
[supply]
pressure = "7 bar"
pipe = {{ length = "30 m", bore = "{0} m", wall = "{1} m" }}
[[stage]]
hardware = "{2}"
set_pressure = "4 bar"
{3}
[downstream]
pipe = {{ length = "40 m", bore = "{0} m", wall = "{1} m" }}
storage = "60 mL/bar"
far_end_storage = "100 mL/bar"
[demand]
start = "1 L/s"
[run]
duration = "60 s"
)",
                    bore, 0.04 * bore, name,
                    pilot_operated ? "opening_control = \"3 turns\"\nclosing_control = \"6 turns\"" : "");
    return scenarios::parse_scenario(text, "staged station", {}, folders);
}

scenarios::Stage stage_of(const std::string& hardware, const std::string& name, Folders folders) {
    constexpr double any_bore = 0.1;
    auto stage = with_hardware(hardware, any_bore, folders).stages.front();
    stage.name = name;
    return stage;
}

/// Flow, m3/s, of a capacity four fifths used.
double carried(double capacity, double drop) { return 0.8 * capacity * std::sqrt(drop); }

scenarios::Stage main_stage(const Wanted& wanted, Folders folders, std::string& reason) {
    constexpr double fastest = 6; // m/s
    const double drop = wanted.inlet_pressure - (wanted.static_pressure - 2 * stagger);
    for (const auto& size : scenarios::sizes_of(main_family, folders)) {
        auto stage = stage_of(size, "main", folders);
        const double bore = scenarios::nominal_size(size);
        const double by_speed = fastest * std::numbers::pi / 4 * bore * bore;
        const double by_capacity = carried(stage.pilot_operated()->main_valve.capacity, drop);
        if (wanted.high > std::min(by_speed, by_capacity))
            continue;
        reason = by_speed < by_capacity ? "by the velocity in its bore, at most 6 m/s"
                                        : "by its capacity, four fifths used at full flow";
        return stage;
    }
    throw std::runtime_error(
        fmt::format("no {} valve of the family passes {}", main_family,
                    scenarios::format_quantity(wanted.high, Dimension::flow, scenarios::UnitSystem::si)));
}

/// The stages, last first in order of opening, set 5 psi apart below the static pressure.
Proposal proposal_of(const Wanted& wanted, const Scenario& installation,
                     std::vector<scenarios::Stage> stages) {
    Proposal proposal{installation, {}};
    auto& scenario = proposal.scenario;
    scenario.supply.pressure = wanted.inlet_pressure;
    scenario.supply.steps.clear();
    scenario.adjustments.clear();
    for (std::size_t i = 0; i < stages.size(); ++i) {
        const double opens = wanted.static_pressure - stagger * static_cast<double>(stages.size() - 1 - i);
        auto& stage = stages[i];
        // Alone, the main valve itself holds the static pressure; beside others it begins to flow 5 psi below the last.
        stage.set_pressure =
            stage.pilot_operated() && stages.size() > 1
                ? scenarios::static_setting(*stage.pilot_operated(), wanted.inlet_pressure, opens)
                : opens;
    }
    scenario.demand.kind = scenarios::Demand::Kind::outlet;
    scenario.demand.steps.clear();
    scenario.demand.at_pressure = wanted.static_pressure - stagger * static_cast<double>(stages.size() - 1);
    scenario.demand.start = wanted.low;
    scenario.stages = std::move(stages);
    proposal.map = flow_map(scenario, {wanted.low, wanted.high});
    return proposal;
}

/// How much of the flow range, in ratios, is unsteady.
double unsteady_width(const Proposal& proposal) {
    double width = 0;
    for (const auto& band : proposal.map.unsteady)
        width += std::log(band.to / band.from);
    return width;
}

} // namespace

scenarios::Scenario ordinary_installation(double bore, Folders folders) {
    return with_hardware(scenarios::sizes_of(main_family, folders).front(), bore, folders);
}

Staging propose_staging(const Wanted& wanted, const Scenario& installation, Folders folders) {
    Staging staging;
    const auto main = main_stage(wanted, folders, staging.main_reason);
    const auto direct = scenarios::sizes_of(direct_family, folders);
    std::optional<Proposal> best;
    double narrowest = std::numeric_limits<double>::infinity();
    const auto try_stages = [&](std::vector<scenarios::Stage> stages) {
        auto proposal = proposal_of(wanted, installation, std::move(stages));
        const double width = proposal.steady() ? 0 : std::max(unsteady_width(proposal), 1e-9);
        if (width < narrowest) {
            narrowest = width;
            best = std::move(proposal);
        }
    };
    constexpr double ramp_time = 300; // s: slow beside the stroke of any stage and the columns in the pipes
    const auto finish = [&] {
        staging.chosen = std::move(*best);
        staging.ramp = ramp_up_and_down(staging.chosen.scenario, wanted.low, wanted.high, ramp_time);
        return staging;
    };
    try_stages({main});
    for (std::size_t i = 0; i < std::min(bypass_sizes, direct.size()) && narrowest > 0; ++i)
        try_stages({main, stage_of(direct[i], "bypass", folders)});
    if (narrowest == 0)
        return finish();
    staging.without_intermediate = best;
    for (std::size_t i = 1; i < direct.size() && narrowest > 0; ++i)
        try_stages({main, stage_of(direct[i], "intermediate", folders),
                    stage_of(direct.front(), "bypass", folders)});
    return finish();
}

} // namespace needleturn
