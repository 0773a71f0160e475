#include "tools/commands/stage.h"

#include "models/laws/air.h"
#include "models/laws/cavitation.h"
#include "scenarios/connected.h"
#include "scenarios/hardware_file.h"
#include "scenarios/liquid.h"
#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "scenarios/written.h"
#include "sim/whole_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/family_option.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/map_text.h"
#include "tools/commands/print_text.h"
#include "tools/commands/results_place.h"
#include "tools/commands/run_progress.h"
#include "tools/commands/search_progress.h"
#include "tools/commands/set_option.h"
#include "tools/commands/stage_uncertain.h"
#include "tools/commands/verdict_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/outlets.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <iterator>
#include <memory>
#include <numbers>
#include <optional>
#include <span>
#include <stdexcept>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

/// Pa: a gauge does not show it.
constexpr double invisible = 2e3;

struct StageOptions {
    std::string scenario, flow, static_pressure, inlet, output;
    bool force = false;
    std::string hardware;
    std::string units;
    std::vector<scenarios::Override> set;
    FamilyOption family;
};

/// "by its capacity, four fifths used at full flow"
std::string reason_of(SizedBy what, scenarios::UnitSystem units) {
    switch (what) {
    case SizedBy::velocity:
        return fmt::format("by the velocity in its bore, at most {}",
                           format_quantity(fastest_in_bore, Dimension::speed, units));
    case SizedBy::capacity:
        return "by its capacity, four fifths used at full flow";
    case SizedBy::outlet_pressure:
        break;
    }
    return "because the size smaller does not hold the pressure up to full flow";
}

double read(const std::string& option, const std::string& text, Dimension dimension) {
    try {
        return scenarios::parse_quantity(text, dimension);
    } catch (const scenarios::UnitError& error) {
        throw std::runtime_error(fmt::format("{} {}: {}", option, text, error.what()));
    }
}

/// Those asked for, else the scenario's, else those in which the pressures were typed.
scenarios::UnitSystem units_of(const StageOptions& options, const Scenario* scenario) {
    if (scenario != nullptr && options.units.empty())
        return scenario->units;
    const bool typed = options.flow.find("gpm") != std::string::npos
                       || options.static_pressure.find("psi") != std::string::npos;
    return options.units == "US" || (options.units.empty() && typed) ? scenarios::UnitSystem::us
                                                                     : scenarios::UnitSystem::si;
}

Wanted wanted_of(const StageOptions& options, const Scenario* scenario) {
    Wanted wanted;
    if (scenario != nullptr) {
        if (in_two_steps(scenario->stages))
            throw std::runtime_error(
                "stage proposes the valves of one step: this scenario has a first step under "
                "[[supply.stage]]; give it a scenario without, and as --inlet what the "
                "first step holds");
        wanted.static_pressure = scenarios::static_pressure(scenario->stages);
        wanted.inlet_pressure = scenario->supply.pressure;
        const auto [low, high] = std::ranges::minmax(wanted_flows(*scenario));
        wanted.low = low;
        wanted.high = high;
    }
    if (!options.flow.empty()) {
        const auto dots = options.flow.find("..");
        if (dots == std::string::npos)
            throw std::runtime_error(
                fmt::format("--flow {}: two ends are wanted: \"0.1 L/s..20 L/s\"", options.flow));
        wanted.low = read("--flow", options.flow.substr(0, dots), Dimension::flow);
        wanted.high = read("--flow", options.flow.substr(dots + 2), Dimension::flow);
    }
    if (!options.static_pressure.empty())
        wanted.static_pressure = read("--static", options.static_pressure, Dimension::pressure);
    if (!options.inlet.empty())
        wanted.inlet_pressure = read("--inlet", options.inlet, Dimension::pressure);
    // A ramp in ratios cannot begin at nothing: a thousandth is a dripping tap.
    wanted.from_nothing = wanted.low >= 0 && wanted.low < 1e-3 * wanted.high;
    wanted.low = std::max(wanted.low, 1e-3 * wanted.high);
    if (scenario == nullptr)
        for (const auto& [option, text] : {std::pair{"--flow", options.flow},
                                           {"--static", options.static_pressure},
                                           {"--inlet", options.inlet}})
            if (text.empty())
                throw std::runtime_error(fmt::format(
                    "stage: {} is missing; write a scenario file, or --flow \"0.1 L/s..20 L/s\" --static "
                    "\"4.8 bar\" --inlet \"7.5 bar\"",
                    option));
    const auto said = [](const std::string& option, const std::string& text) {
        return text.empty() ? "the scenario" : option + " " + text;
    };
    const auto pressure = [&](double value) {
        return format_quantity(value, Dimension::pressure, units_of(options, scenario));
    };
    if (!(wanted.high > wanted.low && wanted.low > 0))
        throw std::runtime_error(fmt::format("{}: must rise from above 0; write --flow \"0.1 L/s..20 L/s\"",
                                             said("--flow", options.flow)));
    if (!(wanted.static_pressure > 3 * stagger))
        throw std::runtime_error(
            fmt::format("{}: the static pressure must be above {}, three steps between stages",
                        said("--static", options.static_pressure), pressure(3 * stagger)));
    if (!(wanted.inlet_pressure > wanted.static_pressure))
        throw std::runtime_error(fmt::format("{}: the inlet pressure must be above the static pressure, {}",
                                             said("--inlet", options.inlet),
                                             pressure(wanted.static_pressure)));
    return wanted;
}

void tell_dead_zones(std::string& text, const FlowMap& map, scenarios::UnitSystem units) {
    for (const auto& band : map.unsteady)
        text += fmt::format(
            "  unsteady from {} to {}: {} at {}\n", format_quantity(band.from, Dimension::flow, units),
            format_quantity(band.to, Dimension::flow, units), band.mode, frequency_text(band.frequency));
    for (const auto& band : map.hunting)
        text += fmt::format("  once hunting, it goes on from {} to {}\n",
                            format_quantity(band.from.flow, Dimension::flow, units),
                            format_quantity(band.to.flow, Dimension::flow, units));
}

bool ramp_holds(const HandOver& ramp) {
    return ramp.failure.empty() && ramp.swing <= visible_flicker && ramp.rise <= invisible;
}

bool holds(const Staging& staging, const HandOver& ramp) {
    return staging.chosen.comes_to_rest() && staging.chosen.regulates() && ramp_holds(ramp);
}

constexpr std::array families{"pilot-operated", "direct-acting"};

/// What stage reads: the scenario, if there is one, and hardware of both families.
std::vector<std::filesystem::path> inputs_of(const StageOptions& options,
                                             const std::vector<std::filesystem::path>& folders) {
    std::vector<std::filesystem::path> inputs;
    if (!options.scenario.empty())
        inputs.emplace_back(options.scenario);
    for (const auto& folder : folders)
        for (const auto* family : families)
            inputs.push_back(folder / fmt::format("{}.toml", family));
    return inputs;
}

int stage(const StageOptions& options) {
    refuse_seed_alone(options.family);
    const auto uncertain =
        options.family.given() ? std::optional(family_question(options.family, "stage", {})) : std::nullopt;
    std::vector<std::filesystem::path> folders;
    if (!options.hardware.empty())
        folders.emplace_back(options.hardware);
    // Beside the scenario, or in the current folder without one.
    std::ranges::copy(hardware_folders_of(options.scenario), std::back_inserter(folders));
    for (const auto* family : families)
        if (!options.hardware.empty() && scenarios::sizes_of(family, std::span(folders).first(1)).empty())
            throw std::runtime_error(
                fmt::format("--hardware {}: no {}.toml in this folder", options.hardware, family));
    for (const auto* family : families)
        if (scenarios::sizes_of(family, folders).empty())
            throw std::runtime_error(fmt::format(
                "stage: no hardware called {0}: no {0}.toml in any folder searched; name one by --hardware",
                family));
    if (!options.output.empty())
        check_place({options.output, "stage", inputs_of(options, folders), options.force});
    std::optional<Scenario> given;
    if (options.scenario.empty() && !options.set.empty())
        throw std::runtime_error(fmt::format("--set {}: changes a key of a scenario; write its file, too",
                                             options.set.front().text));
    if (!options.scenario.empty())
        given = scenarios::read_scenario(options.scenario, options.set, folders);
    const auto wanted = wanted_of(options, given ? &*given : nullptr);
    Scenario installation = given ? *given : ordinary_installation(wanted.high, folders);
    installation.units = units_of(options, given ? &*given : nullptr);
    SearchProgress search("stations tried: hunting looked for at", "flows");
    const auto staging = propose_staging(wanted, installation, folders, [&search] { search.one_more(); });
    search.clear();
    HandOver ramp;
    {
        RunProgress progress(ramp_duration(proof_seconds));
        ramp = prove(staging.chosen, std::ref(progress));
    }
    print_text("{}{}", warnings_text(staging.chosen.scenario), staging_text(wanted, staging, ramp));
    if (!options.output.empty()) {
        const auto text = std::string(stage_mark)
                          + scenarios::written(to_run(staging.chosen), hardware_folders_of(options.output));
        sim::write_whole_file(options.output, std::as_bytes(std::span(text)));
        print_text("\n  {}: the proposal as a scenario\n", options.output);
    }
    int sure = exit_passed;
    if (uncertain)
        sure = run_stage_uncertain(staging.chosen, family_of(staging.chosen, *uncertain));
    print_text("\n{}", caution_text());
    if (!ramp.failure.empty())
        return exit_incomplete;
    return holds(staging, ramp) ? sure : exit_failed;
}

} // namespace

std::string staging_text(const Wanted& wanted, const Staging& staging, const HandOver& ramp) {
    const auto& scenario = staging.chosen.scenario;
    const auto& map = staging.chosen.map;
    const auto units = scenario.units;
    const auto pressure = [&](double value) { return format_quantity(value, Dimension::pressure, units); };
    const auto flow = [&](double value) { return format_quantity(value, Dimension::flow, units); };
    const auto velocity = [&](double value) { return format_quantity(value, Dimension::speed, units); };
    std::string text =
        fmt::format("A station for {} to {}, {} at rest, {} at the inlet\n\n", flow(wanted.low),
                    flow(wanted.high), pressure(wanted.static_pressure), pressure(wanted.inlet_pressure));
    if (wanted.from_nothing)
        text += fmt::format(
            "  Looked at from {} on, a thousandth of the highest flow: what drips less is not told.\n\n",
            flow(wanted.low));
    text += fmt::format("  {:<13} {:<22} {:>17} {:>13} {:>12} {:>9} {:>10}\n", "stage", "size", "set",
                        "opens at", "carries to", "opens to", "in bore");
    std::string advice;
    for (std::size_t i = scenario.stages.size(); i-- > 0;) { // in the order in which they open
        const auto& stage = scenario.stages[i];
        const auto& name = scenarios::name_of(stage.hardware);
        double most = 0, widest = 0;
        for (const auto& point : map.points) {
            most = std::max(most, point.stages[i].flow);
            widest = std::max(widest, point.stages[i].open);
        }
        const auto over = std::ranges::find(map.hand_overs, i, &FlowMap::HandOver::stage);
        const double bore = scenarios::nominal_size(name);
        const double speed = most / (std::numbers::pi / 4 * bore * bore);
        const bool flowing = stage.pilot_operated() != nullptr && scenario.stages.size() > 1;
        text += fmt::format("  {:<13} {:<22} {:>17} {:>13} {:>12} {:>7.0f} % {:>10}\n", stage.name, name,
                            pressure(staging.chosen.set[i]) + (flowing ? " flowing" : " static "),
                            over == map.hand_overs.end() ? "lowest flow" : flow(over->flow), flow(most),
                            100 * std::min(widest, 1.0), velocity(speed));
        if (flowing)
            advice += fmt::format(
                "  Turn the pilot of {} while water runs through it, until the outlet shows {}; shut, it "
                "would hold {}.\n",
                stage.name, pressure(staging.chosen.set[i]), pressure(stage.set_pressure));
        if (speed > fastest_in_bore)
            advice += fmt::format("  WARNING: {} in the bore of {}, more than {}: noise and wear.\n",
                                  velocity(speed), stage.name, velocity(fastest_in_bore));
    }
    if (staging.main_sized_by)
        text += fmt::format("  The main valve's size is set {}.\n", reason_of(*staging.main_sized_by, units));
    text += advice + "\n";

    const auto water = scenarios::liquid_at(scenario, wanted.inlet_pressure + models::atmospheric_pressure);
    const double lowest =
        std::ranges::min_element(map.points, {}, &FlowMap::Point::outlet_pressure)->outlet_pressure;
    const double sigma =
        models::cavitation_index(wanted.inlet_pressure + models::atmospheric_pressure,
                                 lowest + models::atmospheric_pressure, water.vapour_pressure_abs);
    const char* bands[] = {"none expected", "incipient", "constant", "damaging"};
    const auto band = static_cast<std::size_t>(models::screen_cavitation(sigma));
    text += fmt::format("{}Cavitation index at the worst corner (full inlet pressure, lowest outlet "
                        "pressure): {:.2f}, {}{}\n",
                        band == 3 ? "WARNING: " : "", sigma, bands[band],
                        band == 3 ? "; reduce in two steps, one station after another" : "");
    text += map_summary(scenario, map);
    const auto& end = map.points.back();
    text += fmt::format("At {} the outlet has {}, {} below its pressure at rest\n", flow(end.flow),
                        pressure(end.outlet_pressure), pressure(staging.chosen.fall_off()));
    if (!ramp.failure.empty())
        text +=
            fmt::format("Ramp up and down, {:.0f} s each: ended early, {}\n", proof_seconds, ramp.failure);
    else
        text += fmt::format(
            "Ramp up and down, {:.0f} s each: outlet {} to {}, hysteresis {} at {}, largest lasting "
            "oscillation {} peak to peak\n",
            proof_seconds, pressure(ramp.lowest), pressure(ramp.highest), pressure(ramp.hysteresis),
            flow(ramp.hysteresis_at), pressure(ramp.swing));
    if (staging.without_intermediate) {
        text += "Without an intermediate stage there is a DEAD ZONE; avoid these flows:\n";
        tell_dead_zones(text, staging.without_intermediate->map, units);
    }
    if (holds(staging, ramp))
        return text
               + "HOLDS: every flow of the range is steady, the flows knocked came to rest, and the ramp "
                 "shows it\n";
    text += ramp.failure.empty() ? "FAILS:\n" : "NOT PROVED: the ramp ended early\n";
    tell_dead_zones(text, map, units);
    if (!staging.chosen.regulates())
        text += fmt::format(
            "  at {} of {} the outlet has fallen off by {}{}: the inlet pressure is too low, or pipes and "
            "valves are too small\n",
            flow(end.flow), flow(wanted.high), pressure(staging.chosen.fall_off()),
            std::isfinite(map.wide_open) ? ", every stage wide open" : "");
    if (ramp.swing > visible_flicker)
        text += fmt::format("  the ramp shows hunting of {} peak to peak near {}\n", pressure(ramp.swing),
                            flow(ramp.swing_at));
    if (ramp.rise > invisible)
        text += fmt::format("  in the ramp the pressure rises by {} as the flow does\n", pressure(ramp.rise));
    if (!staging.chosen.comes_to_rest() || ramp.swing > visible_flicker)
        text +=
            "  Other remedies: pinch the opening control (hunting gets smaller; the flows at which it begins "
            "hardly "
            "change),\n  bleed the cover, keep a minimum flow running.\n";
    return text;
}

void add_stage(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<StageOptions>();
    auto command =
        program.add_subcommand("stage", "propose a staged station for a range of flows, and prove it");
    command.add_option("scenario", options->scenario,
                       "scenario file (.toml) whose pipes, pressures and flows to take (default: an ordinary "
                       "installation)");
    command.add_option("--flow", options->flow, "flows to carry: \"0.1 L/s..20 L/s\"");
    command.add_option("--static", options->static_pressure, "pressure at rest: \"4.8 bar\"");
    command.add_option("--inlet", options->inlet, "static pressure at the inlet: \"7.5 bar\"");
    command.add_option("--hardware", options->hardware,
                       "folder with the hardware files (default: those that come with it)");
    command.add_option("--units", options->units, "of the print-out (default: as typed, or the scenario's)")
        .among({"SI", "US"});
    add_force(command, options->force);
    command.add_option("-o,--output", options->output, "write the proposal as a scenario file");
    add_family(command, options->family, "100",
               "how many of so many stations (default: 100, at least 10) drawn from the ranges of the "
               "hardware regulate and are "
               "steady, of small motions");
    add_set(command, options->set);
    command.callback([options, &action] { action = [options] { return stage(*options); }; });
}

} // namespace needleturn
