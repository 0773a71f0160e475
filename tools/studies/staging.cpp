#include "tools/studies/staging.h"

#include "scenarios/demands.h"
#include "scenarios/hardware_file.h"
#include "scenarios/read_scenario.h"
#include "scenarios/static_setting.h"
#include "scenarios/units.h"
#include "scenarios/written.h"
#include "tools/studies/crew.h"
#include "tools/studies/hunting_band.h"
#include "tools/studies/outlets.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
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
cock = 1
outlet_cock = 1
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
                    std::round(bore * 1e3) / 1e3, std::round(0.04 * bore * 1e4) / 1e4, name,
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

/// A main valve and what sets its size.
struct Main {
    scenarios::Stage stage;
    SizedBy sized_by;
};

/// Those of the family that are large enough, the smallest first.
std::vector<Main> main_valves(const Wanted& wanted, scenarios::UnitSystem units, Folders folders) {
    const double drop = wanted.inlet_pressure - (wanted.static_pressure - 2 * stagger);
    std::vector<Main> large_enough;
    double most = 0;
    for (const auto& size : scenarios::sizes_of(main_family, folders)) {
        auto stage = stage_of(size, "main", folders);
        const double bore = scenarios::nominal_size(size);
        const double by_speed = fastest_in_bore * std::numbers::pi / 4 * bore * bore;
        const double by_capacity = carried(stage.pilot_operated()->main_valve.capacity, drop);
        most = std::max(most, std::min(by_speed, by_capacity));
        if (wanted.high > std::min(by_speed, by_capacity))
            continue;
        large_enough.push_back({std::move(stage), !large_enough.empty()    ? SizedBy::outlet_pressure
                                                  : by_speed < by_capacity ? SizedBy::velocity
                                                                           : SizedBy::capacity});
    }
    if (large_enough.empty())
        throw std::runtime_error(
            fmt::format("stage: no {} valve of the family passes {}; the largest passes {}, at most {} and "
                        "four fifths open",
                        main_family, scenarios::format_quantity(wanted.high, Dimension::flow, units),
                        scenarios::format_quantity(most, Dimension::flow, units),
                        scenarios::format_quantity(fastest_in_bore, Dimension::speed, units)));
    return large_enough;
}

/// The stages, last first in order of opening, set 5 psi apart below the static pressure.
Proposal proposal_of(const Wanted& wanted, const Scenario& installation,
                     std::vector<scenarios::Stage> stages) {
    Proposal proposal{installation, {}, wanted.high, {}, {}};
    auto& scenario = proposal.scenario;
    scenario.supply.pressure = wanted.inlet_pressure;
    hold_supply(scenario);
    scenario.adjustments.clear();
    // As a person sets and writes it: what is proved is what the file of the proposal says.
    const auto pressure = [&](double pascals) {
        return scenarios::rounded(pascals, Dimension::pressure, scenario.units);
    };
    for (std::size_t i = 0; i < stages.size(); ++i) {
        const double opens =
            pressure(wanted.static_pressure - stagger * static_cast<double>(stages.size() - 1 - i));
        auto& stage = stages[i];
        // Alone, the main valve itself holds the static pressure; beside others it begins to flow 5 psi below the last.
        stage.set_pressure =
            stage.pilot_operated() && stages.size() > 1
                ? pressure(scenarios::static_setting(*stage.pilot_operated(), wanted.inlet_pressure, opens))
                : opens;
        proposal.set.push_back(opens);
    }
    // What the last stage that opens is set to; an outlet of a building has a pressure of its own.
    const double lowest = proposal.set.front();
    as_outlets(scenario, lowest);
    if (scenario.downstream.branches.empty())
        scenario.demand.at_pressure = lowest;
    lay_flow(scenario, wanted.low);
    scenario.stages = std::move(stages);
    proposal.sweep = delivering(scenario, wanted.low, wanted.high);
    proposal.map = flow_map(scenario, proposal.sweep);
    return proposal;
}

/// The stages of a proposal that carry somewhere in the range.
std::vector<scenarios::Stage> carrying_stages(const Proposal& proposal) {
    std::vector<scenarios::Stage> carrying;
    for (std::size_t i = 0; i < proposal.scenario.stages.size(); ++i)
        if (std::ranges::any_of(proposal.map.points,
                                [i](const FlowMap::Point& point) { return carries(point, i); }))
            carrying.push_back(proposal.scenario.stages[i]);
    return carrying;
}

void look_for_hunting(Proposal& proposal, const std::function<bool()>& go_on) {
    find_hunting(proposal.scenario, proposal.map, {.threads = all_processors(), .go_on = go_on});
}

/// How much of the flow range, in ratios, is unsteady; where none is, hunts once knocked.
double hunting_width(Proposal& proposal, const std::function<bool()>& go_on) {
    double width = 0;
    for (const auto& band : proposal.map.unsteady)
        width += std::log(band.to / band.from);
    if (!proposal.steady())
        return std::max(width, 1e-9);
    look_for_hunting(proposal, go_on);
    for (const auto& band : proposal.map.hunting)
        width += std::max(std::log(band.to.flow / band.from.flow), 1e-9);
    return width;
}

} // namespace

scenarios::Scenario ordinary_installation(double flow, Folders folders) {
    // Darcy-Weisbach with the friction factor of a pipe in use.
    constexpr double friction = 0.02, length = 70, loss = 5e4, density = 1000; // 1, m, Pa, kg/m3
    const double bore = std::pow(
        8 * density * friction * length * flow * flow / (std::numbers::pi * std::numbers::pi * loss), 0.2);
    return with_hardware(scenarios::sizes_of(main_family, folders).front(), bore, folders);
}

namespace {

Staging staging_with(const Main& main, const Wanted& wanted, const Scenario& installation, Folders folders,
                     const std::function<bool()>& go_on) {
    Staging staging;
    const auto direct = scenarios::sizes_of(direct_family, folders);
    std::optional<Proposal> best;
    double narrowest = std::numeric_limits<double>::infinity();
    const auto try_stages = [&](std::vector<scenarios::Stage> stages) {
        const std::size_t all = stages.size();
        auto proposal = proposal_of(wanted, installation, std::move(stages));
        if (auto carrying = carrying_stages(proposal); !carrying.empty() && carrying.size() < all)
            if (auto fewer = proposal_of(wanted, installation, std::move(carrying)); fewer.regulates())
                proposal = std::move(fewer);
        const double width = hunting_width(proposal, go_on);
        if (width < narrowest) {
            narrowest = width;
            best = std::move(proposal);
        }
    };
    try_stages({main.stage});
    for (std::size_t i = 0; i < std::min(bypass_sizes, direct.size()) && narrowest > 0; ++i)
        try_stages({main.stage, stage_of(direct[i], "bypass", folders)});
    if (narrowest > 0) {
        staging.without_intermediate = best;
        for (std::size_t i = 1; i < direct.size() && narrowest > 0; ++i)
            try_stages({main.stage, stage_of(direct[i], "intermediate", folders),
                        stage_of(direct.front(), "bypass", folders)});
    }
    staging.chosen = std::move(*best);
    if (std::ranges::none_of(staging.chosen.scenario.stages,
                             [](const scenarios::Stage& stage) { return stage.name == "intermediate"; }))
        staging.without_intermediate.reset();
    if (std::ranges::any_of(staging.chosen.scenario.stages, &scenarios::Stage::pilot_operated))
        staging.main_sized_by = main.sized_by;
    return staging;
}

} // namespace

Staging propose_staging(const Wanted& wanted, const Scenario& installation, Folders folders,
                        const std::function<void()>& one_more) {
    const auto go_on = [&] {
        if (one_more)
            one_more();
        return true;
    };
    std::optional<Staging> staging;
    for (const auto& main : main_valves(wanted, installation.units, folders)) {
        auto with_this = staging_with(main, wanted, installation, folders, go_on);
        const bool regulates = with_this.chosen.regulates();
        if (!staging || regulates)
            staging = std::move(with_this);
        if (regulates)
            break;
    }
    if (!staging->chosen.map.hunting_followed)
        look_for_hunting(staging->chosen, go_on);
    return std::move(*staging);
}

Scenario to_run(const Proposal& proposal) {
    auto scenario = proposal.scenario;
    const auto flow = [&](double of) { return scenarios::rounded(of, Dimension::flow, scenario.units); };
    constexpr double rest = 10, change = 15; // s: slow beside a stroke, so that no step is a surge
    const double middle = std::sqrt(proposal.sweep.low * proposal.sweep.high);
    const auto shares = shares_of(scenario);
    scenario.run.duration = rest;
    visit_shares(scenario, shares, [&](const std::string&, scenarios::Demand& demand, double share) {
        demand.start = flow(share * proposal.sweep.low);
    });
    for (const double to : {middle, proposal.sweep.high, middle, proposal.sweep.low}) {
        visit_shares(scenario, shares, [&](const std::string&, scenarios::Demand& demand, double share) {
            if (share > 0)
                demand.steps.push_back({scenario.run.duration, flow(share * to), change});
        });
        scenario.run.duration += change + rest;
    }
    scenario.run.sample_interval = 0.01;
    auto& accept = scenario.accept;
    if (accept == scenarios::Accept{}) {
        accept.fall_off =
            scenarios::rounded(proposal.allowed_fall_off(), Dimension::pressure, scenario.units);
        accept.hunting_peak_to_peak =
            scenarios::rounded(visible_flicker, Dimension::pressure, scenario.units);
    }
    return scenario;
}

HandOver prove(const Proposal& proposal, const Progress& progress) {
    return ramp_up_and_down(proposal.scenario, proposal.sweep.low, proposal.sweep.high, proof_seconds,
                            progress);
}

} // namespace needleturn
