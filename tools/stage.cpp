#include "tools/stage.h"

#include "models/air.h"
#include "models/cavitation.h"
#include "models/water.h"
#include "scenarios/hardware_file.h"
#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "sim/whole_file.h"
#include "tools/exit_code.h"
#include "tools/map.h"
#include "tools/verdict_text.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <memory>
#include <numbers>
#include <stdexcept>
#include <vector>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

/// Peak to peak, Pa, that counts as hunting in the ramp: as in the verdict.
constexpr double visible_flicker = 2e3;
/// Pa: a gauge does not show it.
constexpr double invisible = 2e3;

struct StageOptions {
    std::string scenario, flow, static_pressure, inlet, output;
    std::string hardware;
    std::string units = "SI";
};

double read(const std::string& option, const std::string& text, Dimension dimension) {
    try {
        return scenarios::parse_quantity(text, dimension);
    } catch (const scenarios::UnitError& error) {
        throw std::runtime_error(fmt::format("{} {}: {}", option, text, error.what()));
    }
}

Wanted wanted_of(const StageOptions& options, const Scenario* scenario) {
    Wanted wanted;
    if (scenario != nullptr) {
        for (const auto& stage : scenario->stages)
            wanted.static_pressure = std::max(wanted.static_pressure, stage.set_pressure);
        wanted.inlet_pressure = scenario->supply.pressure;
        wanted.low = wanted.high = scenario->demand.start;
        for (const auto& step : scenario->demand.steps) {
            wanted.low = std::min(wanted.low, step.to);
            wanted.high = std::max(wanted.high, step.to);
        }
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
    wanted.low = std::max(wanted.low, 1e-3 * wanted.high);
    if (!(wanted.high > wanted.low && wanted.low > 0))
        throw std::runtime_error("stage: the flows must rise: --flow \"0.1 L/s..20 L/s\"");
    if (!(wanted.static_pressure > 3 * stagger))
        throw std::runtime_error(
            fmt::format("stage: the static pressure must be above {}; write --static",
                        format_quantity(3 * stagger, Dimension::pressure, scenarios::UnitSystem::si)));
    if (!(wanted.inlet_pressure > wanted.static_pressure))
        throw std::runtime_error(
            "stage: the inlet pressure must be above the static pressure; write --inlet");
    return wanted;
}

void tell_dead_zones(std::string& text, const FlowMap& map, scenarios::UnitSystem units) {
    for (const auto& band : map.unsteady)
        text += fmt::format("  unsteady from {} to {}: {} at {:.2g} Hz\n",
                            format_quantity(band.from, Dimension::flow, units),
                            format_quantity(band.to, Dimension::flow, units), band.mode, band.frequency);
}

bool ramp_holds(const HandOver& ramp) {
    return ramp.failure.empty() && ramp.swing <= visible_flicker && ramp.rise <= invisible;
}

int stage(const StageOptions& options) {
    std::vector<std::filesystem::path> folders;
    if (!options.hardware.empty())
        folders.emplace_back(options.hardware);
    if (!options.scenario.empty())
        folders.push_back(std::filesystem::path(options.scenario).parent_path() / "hardware");
    for (const auto* here : {"scenarios/hardware", "hardware"})
        folders.emplace_back(here);
    if (scenarios::sizes_of("pilot-operated", folders).empty()
        || scenarios::sizes_of("direct-acting", folders).empty())
        throw std::runtime_error(
            "stage: no hardware found; write --hardware FOLDER, the folder with pilot-operated.toml "
            "and direct-acting.toml");
    std::optional<Scenario> given;
    if (!options.scenario.empty())
        given = scenarios::read_scenario(options.scenario, {}, folders);
    const auto wanted = wanted_of(options, given ? &*given : nullptr);
    Scenario installation;
    if (given) {
        installation = *given;
    } else {
        constexpr double speed = 3; // m/s, in a pipe laid for the full flow
        installation = ordinary_installation(std::sqrt(wanted.high / speed * 4 / std::numbers::pi), folders);
        installation.units = options.units == "US" ? scenarios::UnitSystem::us : scenarios::UnitSystem::si;
    }
    const auto staging = propose_staging(wanted, installation, folders);
    fmt::print("{}", staging_text(wanted, staging));
    if (!options.output.empty()) {
        const auto text = scenarios::resolved(staging.chosen.scenario);
        sim::write_whole_file(options.output, std::as_bytes(std::span(text)));
        fmt::print("\n  {}: the proposal as a scenario\n", options.output);
    }
    fmt::print("\n{}", caution_text());
    return staging.chosen.steady() && ramp_holds(staging.ramp) ? exit_passed : exit_failed;
}

} // namespace

std::string staging_text(const Wanted& wanted, const Staging& staging) {
    const auto& scenario = staging.chosen.scenario;
    const auto& map = staging.chosen.map;
    const auto units = scenario.units;
    const auto pressure = [&](double value) { return format_quantity(value, Dimension::pressure, units); };
    const auto flow = [&](double value) { return format_quantity(value, Dimension::flow, units); };
    std::string text =
        fmt::format("A station for {} to {}, {} at rest, {} at the inlet\n\n", flow(wanted.low),
                    flow(wanted.high), pressure(wanted.static_pressure), pressure(wanted.inlet_pressure));
    text += fmt::format("  {:<13} {:<22} {:>10} {:>12} {:>12} {:>10}\n", "stage", "size", "static",
                        "opens at", "carries", "in bore");
    for (std::size_t i = scenario.stages.size(); i-- > 0;) { // in the order in which they open
        const auto& stage = scenario.stages[i];
        const auto& name = scenarios::name_of(stage.hardware);
        double most = 0;
        for (const auto& point : map.points)
            most = std::max(most, point.stages[i].flow);
        const auto over = std::ranges::find(map.hand_overs, i, &FlowMap::HandOver::stage);
        const double bore = scenarios::nominal_size(name);
        text += fmt::format("  {:<13} {:<22} {:>10} {:>12} {:>12} {:>6.1f} m/s\n", stage.name, name,
                            pressure(stage.set_pressure),
                            over == map.hand_overs.end() ? "once flowing" : flow(over->flow), flow(most),
                            most / (std::numbers::pi / 4 * bore * bore));
    }
    text += fmt::format(
        "  The main valve's size is set {}. Set the others statically, the main valve flowing at {}.\n\n",
        staging.main_reason, pressure(map.points.back().outlet_pressure));

    const auto water =
        models::water_at(scenario.water.temperature, wanted.inlet_pressure + models::atmospheric_pressure);
    const double sigma = models::cavitation_index(
        wanted.inlet_pressure + models::atmospheric_pressure,
        map.points.back().outlet_pressure + models::atmospheric_pressure, water.vapour_pressure_abs);
    const char* bands[] = {"none expected", "incipient", "constant", "damaging"};
    text += fmt::format(
        "Cavitation index at the worst corner (full inlet pressure, lowest outlet pressure): {:.2f}, {}\n",
        sigma, bands[static_cast<std::size_t>(models::screen_cavitation(sigma))]);
    text += map_summary(scenario, map);
    const auto& ramp = staging.ramp;
    if (!ramp.failure.empty())
        text += fmt::format("Ramp up and down: ended early, {}\n", ramp.failure);
    else
        text += fmt::format("Ramp up and down: outlet {} to {}, hysteresis {} at {}, largest lasting "
                            "oscillation {} peak to peak\n",
                            pressure(ramp.lowest), pressure(ramp.highest), pressure(ramp.hysteresis),
                            flow(ramp.hysteresis_at), pressure(ramp.swing));
    if (staging.without_intermediate) {
        text += "Without an intermediate stage there is a DEAD ZONE; avoid these flows:\n";
        tell_dead_zones(text, staging.without_intermediate->map, units);
    }
    if (staging.chosen.steady() && ramp_holds(ramp))
        return text + "HOLDS: every flow of the range is steady, and the ramp shows it\n";
    text += "FAILS:\n";
    tell_dead_zones(text, map, units);
    if (ramp.swing > visible_flicker)
        text += fmt::format("  the ramp shows hunting of {} peak to peak near {}\n", pressure(ramp.swing),
                            flow(ramp.swing_at));
    if (ramp.rise > invisible)
        text += fmt::format("  in the ramp the pressure rises by {} as the flow does\n", pressure(ramp.rise));
    return text
           + "  Other remedies: pinch the opening control, bleed the cover, keep a minimum flow running.\n";
}

void add_stage(CLI::App& program, std::function<int()>& action) {
    const auto options = std::make_shared<StageOptions>();
    auto* command =
        program.add_subcommand("stage", "propose a staged station for a range of flows, and prove it");
    command->add_option(
        "scenario", options->scenario,
        "scenario file (.toml) whose pipes, pressures and flows to take (default: an ordinary "
        "installation)");
    command->add_option("--flow", options->flow, "flows to carry: \"0.1 L/s..20 L/s\"");
    command->add_option("--static", options->static_pressure, "pressure at rest: \"4.8 bar\"");
    command->add_option("--inlet", options->inlet, "static pressure at the inlet: \"7.5 bar\"");
    command->add_option("--hardware", options->hardware, "folder with the hardware files");
    command->add_option("--units", options->units, "of the print-out, without a scenario")
        ->check(CLI::IsMember({"SI", "US"}))
        ->capture_default_str();
    command->add_option("-o,--output", options->output, "write the proposal as a scenario file");
    command->callback([options, &action] { action = [options] { return stage(*options); }; });
}

} // namespace needleturn
