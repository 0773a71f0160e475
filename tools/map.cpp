#include "tools/map.h"

#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "sim/cases_file.h"
#include "tools/exit_code.h"
#include "tools/simulate.h"
#include "tools/verdict_text.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <memory>
#include <stdexcept>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

/// Values of one scenario key: the second axis.
struct Axis {
    std::string key;
    std::string unit; ///< as typed
    std::vector<double> values;
};

struct MapOptions {
    std::string scenario, output, flow, over;
    std::vector<std::string> set;
    std::size_t points = 200, over_points = 9;
    std::string spacing = "linear";
};

[[noreturn]] void refuse(const std::string& option, const std::string& text, const std::string& why) {
    throw std::runtime_error(fmt::format("{} {}: {}", option, text, why));
}

std::string unquoted(std::string text) {
    std::erase(text, '"');
    const auto begin = text.find_first_not_of(' ');
    return begin == std::string::npos ? "" : text.substr(begin, text.find_last_not_of(' ') - begin + 1);
}

/// "a..b" as its two ends.
std::pair<std::string, std::string> ends_of(const std::string& option, const std::string& text) {
    const auto dots = text.find("..");
    if (dots == std::string::npos)
        refuse(option, text, "two ends are wanted: \"0.1 L/s..20 L/s\"");
    return {unquoted(text.substr(0, dots)), unquoted(text.substr(dots + 2))};
}

/// The number that `text` begins with, and its unit.
std::pair<double, std::string> number_of(const std::string& option, const std::string& text) {
    double number = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    if (error != std::errc{})
        refuse(option, text, "a number and a unit are wanted: \"120 mL\"");
    return {number, unquoted(std::string(end, text.data() + text.size()))};
}

Axis axis_of(const MapOptions& options) {
    const std::string option = "--over";
    const auto equals = options.over.find('=');
    if (equals == std::string::npos)
        refuse(option, options.over, "a key and its ends are wanted: main.air_in_cover=\"0 mL\"..\"300 mL\"");
    const auto [first, last] = ends_of(option, options.over.substr(equals + 1));
    const auto [low, unit] = number_of(option, first);
    const auto [high, same] = number_of(option, last);
    if (unit != same)
        refuse(option, options.over, "both ends must have the same unit");
    const bool logarithmic = options.spacing == "log";
    if (logarithmic && !(low > 0 && high > 0))
        refuse(option, options.over, "logarithmic spacing needs ends above 0");
    Axis axis{unquoted(options.over.substr(0, equals)), unit, {}};
    for (std::size_t i = 0; i < options.over_points; ++i) {
        const double share = options.over_points > 1
                                 ? static_cast<double>(i) / static_cast<double>(options.over_points - 1)
                                 : 0;
        axis.values.push_back(logarithmic ? low * std::pow(high / low, share) : low + share * (high - low));
    }
    return axis;
}

FlowSweep sweep_of(const MapOptions& options, const Scenario& scenario) {
    FlowSweep sweep = whole_range(scenario);
    if (!options.flow.empty()) {
        const auto [low, high] = ends_of("--flow", options.flow);
        try {
            sweep.low = scenarios::parse_quantity(low, Dimension::flow);
            sweep.high = scenarios::parse_quantity(high, Dimension::flow);
        } catch (const scenarios::UnitError& error) {
            refuse("--flow", options.flow, error.what());
        }
        if (!(sweep.low > 0 && sweep.high > sweep.low))
            refuse("--flow", options.flow, "must rise from above 0");
    }
    sweep.points = options.points;
    return sweep;
}

std::string flow_text(const Scenario& scenario, double flow) {
    return std::isfinite(flow) ? format_quantity(flow, Dimension::flow, scenario.units) : "none";
}

/// The maps as a cube of cases: the second axis, if there is one, then the wanted flow.
void write_maps(const std::filesystem::path& path, const Scenario& scenario, const Axis& axis,
                const std::vector<FlowMap>& maps) {
    sim::CasesLayout layout;
    layout.attributes = {{"title", scenario.title},
                         {"scenario", scenarios::resolved(scenario)},
                         {"program", program_version()},
                         {"summary", map_summary(scenario, maps.front())}};
    if (!axis.key.empty())
        layout.axes.push_back({axis.key, axis.unit, "varied key of the scenario", axis.values});
    std::vector<double> wanted;
    for (const auto& point : maps.front().points)
        wanted.push_back(point.wanted);
    layout.axes.push_back({"wanted_flow", "m3 s-1", "flow wanted at the demand's stated pressure", wanted});
    layout.per_case = {{"flow", "m3 s-1", "flow delivered"},
                       {"outlet_pressure", "Pa", "steady pressure at the outlet"},
                       {"steady", "1", "1: every mode decays, 0: one grows"},
                       {"growth", "s-1", "of the worst mode; negative decays"},
                       {"damping_ratio", "1", "of the worst mode; negative grows"},
                       {"frequency", "Hz", "of the worst mode"},
                       {"minimum_continuous_flow", "m3 s-1",
                        "above it every flow is steady; the same along the wanted flow; inf: none"}};
    for (const auto& stage : maps.front().stages) {
        layout.per_case.push_back({stage + ".flow", "m3 s-1", "flow that the stage carries"});
        layout.per_case.push_back({stage + ".share", "1", "of the flow that the stage carries"});
        layout.per_case.push_back({stage + ".lift", "m", "lift of the stage"});
    }
    layout.per_case.push_back({"mode", "", "what takes part in the worst mode", true});
    sim::write_cases(path, layout, [&](std::size_t number) {
        const auto& map = maps[number / wanted.size()];
        const auto& point = map.points[number % wanted.size()];
        sim::CasesRow row;
        row.numbers = {point.flow,
                       point.outlet_pressure,
                       point.steady ? 1.0 : 0.0,
                       point.worst.eigenvalue.real(),
                       point.worst.damping_ratio,
                       point.worst.frequency,
                       map.minimum_continuous_flow()};
        for (const auto& stage : point.stages)
            row.numbers.insert(row.numbers.end(), {stage.flow, stage.flow / point.flow, stage.lift});
        row.words = {point.mode};
        return sim::CaseRows{row, {}};
    });
}

/// Only the flows of the sweep, as every row of a two-dimensional map has.
void drop_refinement(FlowMap& map, const FlowSweep& sweep) {
    std::vector<FlowMap::Point> kept;
    for (auto& point : map.points) {
        const double place = std::log(point.wanted / sweep.low) / std::log(sweep.high / sweep.low)
                             * static_cast<double>(sweep.points - 1);
        constexpr double rounding = 1e-9;
        if (std::abs(place - static_cast<double>(kept.size())) < rounding * static_cast<double>(sweep.points))
            kept.push_back(std::move(point));
    }
    map.points = std::move(kept);
}

int map(const MapOptions& options) {
    std::vector<scenarios::Override> overrides;
    for (const auto& text : options.set)
        overrides.push_back({text});
    const auto scenario = scenarios::read_scenario(options.scenario, overrides);
    const auto sweep = sweep_of(options, scenario);
    const auto path = options.output.empty()
                          ? std::filesystem::path(options.scenario).stem().concat("-map.h5")
                          : std::filesystem::path(options.output);
    fmt::print("{}\n\n", scenario.title);
    std::vector<FlowMap> maps;
    Axis axis;
    if (options.over.empty()) {
        maps.push_back(flow_map(scenario, sweep));
        constexpr std::size_t lines = 24;
        fmt::print("{}\n{}", map_table(scenario, maps.front(), lines), map_summary(scenario, maps.front()));
    } else {
        axis = axis_of(options);
        std::vector<Scenario>
            all; // read before the first is computed: a value out of range must not cost time
        for (const double value : axis.values) {
            auto changed = overrides;
            changed.push_back(
                {fmt::format("{}={:.15g}{}{}", axis.key, value, axis.unit.empty() ? "" : " ", axis.unit)});
            all.push_back(scenarios::read_scenario(options.scenario, changed));
        }
        fmt::print("  {:>20}  {:>24}  {}\n", axis.key, "minimum continuous flow", "unsteady");
        for (std::size_t i = 0; i < all.size(); ++i) {
            auto row = flow_map(all[i], sweep);
            std::string bands;
            for (const auto& band : row.unsteady)
                bands += fmt::format("{}{} to {} ({}, {:.2g} Hz)", bands.empty() ? "" : "; ",
                                     flow_text(scenario, band.from), flow_text(scenario, band.to), band.mode,
                                     band.frequency);
            fmt::print("  {:>20}  {:>24}  {}\n", fmt::format("{:.4g} {}", axis.values[i], axis.unit),
                       flow_text(scenario, row.minimum_continuous_flow()), bands.empty() ? "nowhere" : bands);
            drop_refinement(row, sweep);
            maps.push_back(std::move(row));
        }
    }
    write_maps(path, scenario, axis, maps);
    fmt::print("\n  {}\n\n{}", path.string(), caution_text());
    return exit_passed;
}

} // namespace

std::string map_table(const Scenario& scenario, const FlowMap& map, std::size_t lines) {
    const auto units = scenario.units;
    std::string text = fmt::format("  {:>12}  {:>12}", "flow", "outlet");
    for (const auto& stage : map.stages)
        text += fmt::format("  {:>12}", stage);
    text += fmt::format("  {:>8}  {:>9}  {}\n", "damping", "frequency", "worst mode");
    const std::size_t stride = std::max<std::size_t>(1, map.points.size() / lines);
    for (std::size_t i = 0; i < map.points.size(); ++i) {
        const auto& point = map.points[i];
        const bool changes = i > 0 && map.points[i - 1].steady != point.steady;
        if (i % stride != 0 && !changes)
            continue;
        text += fmt::format("  {:>12}  {:>12}", format_quantity(point.flow, Dimension::flow, units),
                            format_quantity(point.outlet_pressure, Dimension::pressure, units));
        for (const auto& stage : point.stages)
            text += fmt::format("  {:>10.0f} %", 100 * stage.flow / point.flow);
        text += fmt::format("  {:>8.3f}  {:>6.2f} Hz  {}{}\n", point.worst.damping_ratio,
                            point.worst.frequency, point.mode, point.steady ? "" : "  UNSTEADY");
    }
    return text;
}

std::string map_summary(const Scenario& scenario, const FlowMap& map) {
    const auto pressure = [&](double value) {
        return format_quantity(value, Dimension::pressure, scenario.units);
    };
    std::string text;
    for (const auto& over : map.hand_overs)
        text += fmt::format("{} begins to carry at {}, outlet {}, fall-off {}\n", map.stages[over.stage],
                            flow_text(scenario, over.flow), pressure(over.outlet_pressure),
                            pressure(over.fall_off));
    for (const auto& band : map.unsteady)
        text += fmt::format("{}: {} to {}, {} at {:.2g} Hz\n", band.from_start ? "UNSTEADY" : "DEAD ZONE",
                            band.from_start ? "lowest flow" : flow_text(scenario, band.from),
                            band.to_end ? "highest flow" : flow_text(scenario, band.to), band.mode,
                            band.frequency);
    const auto lowest = flow_text(scenario, map.points.front().flow);
    const auto highest = flow_text(scenario, map.points.back().flow);
    if (map.unsteady.empty())
        return text
               + fmt::format("Steady over the whole range, {} to {} (rangeability at least {:.0f})\n", lowest,
                             highest, map.rangeability());
    if (map.unsteady.back().to_end)
        return text + fmt::format("No minimum continuous flow: {} is unsteady\n", highest);
    return text
           + fmt::format("Minimum continuous flow {}; steady from there to {} (rangeability {:.1f})\n",
                         flow_text(scenario, map.minimum_continuous_flow()), highest, map.rangeability());
}

void add_map(CLI::App& program, std::function<int()>& action) {
    const auto options = std::make_shared<MapOptions>();
    auto* command = program.add_subcommand(
        "map", "over which flows a station is steady: shares, fall-off, worst mode, minimum continuous flow");
    command->add_option("scenario", options->scenario, "scenario file (.toml)")->required();
    command->add_option("-o,--output", options->output, "HDF5 file (default: <scenario>-map.h5 here)");
    command->add_option("--flow", options->flow,
                        "flows to look at: \"0.1 L/s..20 L/s\" (default: trickle to all the station passes)");
    command->add_option("--points", options->points, "number of flows")
        ->check(CLI::Range(2, 100000))
        ->capture_default_str();
    command->add_option("--over", options->over,
                        "second axis, any key: main.air_in_cover=\"0 mL\"..\"300 mL\"");
    command->add_option("--over-points", options->over_points, "number of its values")
        ->check(CLI::Range(1, 10000))
        ->capture_default_str();
    command->add_option("--spacing", options->spacing, "of its values")
        ->check(CLI::IsMember({"linear", "log"}))
        ->capture_default_str();
    command->add_option("--set", options->set, "change a key before; may be repeated")
        ->take_all()
        ->allow_extra_args(false);
    command->callback([options, &action] { action = [options] { return map(*options); }; });
}

} // namespace needleturn
