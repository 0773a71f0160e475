#include "tools/commands/map.h"

#include "scenarios/read_scenario.h"
#include "scenarios/study.h"
#include "scenarios/units.h"
#include "sim/cases_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/results_place.h"
#include "tools/commands/set_option.h"
#include "tools/commands/verdict_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/simulate.h"
#include "tools/studies/sweep_case.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <numeric>
#include <optional>
#include <stdexcept>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

struct MapOptions {
    std::string scenario, output, flow, over;
    std::vector<scenarios::Override> set;
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

/// The second axis: a key and what it is.
scenarios::Factor factor_of(const MapOptions& options) {
    const auto equals = options.over.find('=');
    if (equals == std::string::npos)
        refuse("--over", options.over,
               "a key and its ends are wanted: main.air_in_cover=\"0 mL\"..\"300 mL\"");
    const auto key = unquoted(options.over.substr(0, equals));
    const auto values = options.over.substr(equals + 1);
    try {
        if (values.find("..") == std::string::npos) {
            std::vector<std::string> list;
            for (std::size_t begin = 0; begin <= values.size();) {
                const auto end = std::min(values.find(',', begin), values.size());
                list.push_back(unquoted(values.substr(begin, end - begin)));
                begin = end + 1;
            }
            return scenarios::listed_factor(key, list);
        }
        const auto [from, to] = ends_of("--over", values);
        return scenarios::ranged_factor(key, from, to,
                                        options.spacing == "log" ? scenarios::Factor::Spacing::log
                                                                 : scenarios::Factor::Spacing::linear,
                                        options.over_points);
    } catch (const scenarios::UnitError& error) {
        refuse("--over", options.over, error.what());
    }
}

/// The scenario at each place of the axis.
std::vector<Scenario> read_along(const MapOptions& options, const scenarios::Factor& axis) {
    std::vector<Scenario> all;
    for (std::size_t i = 0; i < axis.size(); ++i) {
        auto changed = options.set;
        changed.push_back({axis.key + "=" + axis.at(i).text});
        try {
            all.push_back(scenarios::read_scenario(options.scenario, changed, hardware_folders()));
        } catch (const scenarios::ScenarioError& error) {
            refuse("--over", options.over, error.what());
        }
    }
    return all;
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

/// The rows of `axis` at `places`.
sim::Column at_places(const sim::Column& axis, const std::vector<std::size_t>& places) {
    sim::Column column = axis;
    std::visit(
        [&](auto& rows) {
            const auto all = std::exchange(rows, {});
            for (const std::size_t place : places)
                rows.push_back(all[place]);
        },
        column.rows);
    return column;
}

sim::Column numbered(std::size_t rows) {
    std::vector<double> numbers(rows);
    std::iota(numbers.begin(), numbers.end(), 1.0);
    return {"row", "1", "number, from 1", numbers};
}

/// What is told once for each place of the second axis, for each unsteady band and for each hand-over; the first column of
/// each is its dimension.
std::vector<sim::CasesTable> tables_of(const sim::Column* axis, const std::vector<FlowMap>& maps) {
    using Numbers = std::vector<double>;
    using Words = std::vector<std::string>;
    std::vector<std::size_t> band_places, over_places;
    Numbers minimum, highest, rangeability, still, from, to, frequency, over_flow, over_pressure, fall_off;
    Words mode, stage;
    for (std::size_t i = 0; i < maps.size(); ++i) {
        const auto& map = maps[i];
        minimum.push_back(map.minimum_continuous_flow());
        highest.push_back(map.wide_open);
        rangeability.push_back(map.rangeability());
        still.push_back(map.static_pressure);
        for (const auto& band : map.unsteady) {
            band_places.push_back(i);
            from.push_back(band.from);
            to.push_back(band.to);
            frequency.push_back(band.frequency);
            mode.push_back(band.mode);
        }
        for (const auto& over : map.hand_overs) {
            over_places.push_back(i);
            stage.push_back(map.stages[over.stage]);
            over_flow.push_back(over.flow);
            over_pressure.push_back(over.outlet_pressure);
            fall_off.push_back(over.fall_off);
        }
    }
    sim::Table station{
        axis != nullptr ? *axis : numbered(maps.size()),
        {"minimum_continuous_flow", "m3 s-1", "above it every flow is steady; inf: none", minimum},
        {"wide_open_flow", "m3 s-1", "above it nothing holds the outlet pressure; inf: not in the range",
         highest},
        {"rangeability", "1", "highest flow held over the minimum continuous flow", rangeability},
        {"static_pressure", "Pa", "the highest set pressure", still}};
    sim::Table unsteady{
        numbered(from.size()),
        {"from", "m3 s-1", "lowest unsteady flow delivered; the lowest of the range: unsteady from there",
         from},
        {"to", "m3 s-1", "highest unsteady flow delivered; the highest of the range: unsteady up to there",
         to},
        {"frequency", "Hz", "of what grows fastest in it", frequency},
        {"mode", "", "what takes part in that", mode}};
    sim::Table hand_over{numbered(over_flow.size()),
                         {"stage", "", "that begins to carry", stage},
                         {"flow", "m3 s-1", "flow delivered at which it does", over_flow},
                         {"outlet_pressure", "Pa", "steady pressure at the outlet then", over_pressure},
                         {"fall_off", "Pa", "below the static pressure then", fall_off}};
    if (axis != nullptr) {
        unsteady.push_back(at_places(*axis, band_places));
        hand_over.push_back(at_places(*axis, over_places));
    }
    return {{"station", station}, {"unsteady", unsteady}, {"hand_over", hand_over}};
}

/// The maps as a cube of cases: the second axis, if there is one, then the wanted flow.
void write_maps(const std::filesystem::path& path, const Scenario& scenario,
                const std::optional<scenarios::Factor>& axis, const std::vector<FlowMap>& maps) {
    sim::CasesLayout layout;
    layout.attributes = {{"kind", map_kind},
                         {"title", scenario.title},
                         {"scenario", scenarios::resolved(scenario)},
                         {"program", program_version()},
                         {"summary", map_summary(scenario, maps.front())}};
    if (axis)
        layout.axes.push_back(axis_of(*axis));
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
    layout.tables = tables_of(axis ? &layout.axes.front() : nullptr, maps);
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

/// Printed while it is computed, a line for each place of the axis.
std::vector<FlowMap> maps_along(const scenarios::Factor& axis, const std::vector<Scenario>& scenarios,
                                const FlowSweep& sweep) {
    std::vector<FlowMap> maps;
    std::vector<std::string> places;
    std::size_t width = axis.key.size();
    for (std::size_t i = 0; i < scenarios.size(); ++i) {
        const auto place = axis.at(i);
        places.push_back(axis.dimension ? format_quantity(place.number, *axis.dimension, scenarios[i].units)
                                        : place.text);
        width = std::max(width, places.back().size());
    }
    fmt::print("  {:>{}}  {:>23}  {}\n", axis.key, width, "minimum continuous flow", "unsteady");
    for (std::size_t i = 0; i < scenarios.size(); ++i) {
        const auto& scenario = scenarios[i];
        auto row = flow_map(scenario, sweep);
        std::string bands;
        for (const auto& band : row.unsteady)
            bands += fmt::format("{}{} to {} ({}, {:.2g} Hz)", bands.empty() ? "" : "; ",
                                 flow_text(scenario, band.from), flow_text(scenario, band.to), band.mode,
                                 band.frequency);
        if (bands.empty())
            bands = "nowhere";
        if (std::isfinite(row.wide_open))
            bands += fmt::format("; wide open from {}", flow_text(scenario, row.wide_open));
        fmt::print("  {:>{}}  {:>23}  {}\n", places[i], width,
                   flow_text(scenario, row.minimum_continuous_flow()), bands);
        std::fflush(stdout);
        // Only the flows of the sweep, as every row of a two-dimensional map has.
        std::erase_if(row.points, &FlowMap::Point::between);
        maps.push_back(std::move(row));
    }
    return maps;
}

int map(const MapOptions& options) {
    const auto scenario = scenarios::read_scenario(options.scenario, options.set, hardware_folders());
    const auto sweep = sweep_of(options, scenario);
    const auto path = options.output.empty()
                          ? std::filesystem::path(options.scenario).stem().concat("-map.h5")
                          : std::filesystem::path(options.output);
    check_results_place(path);
    fmt::print("{}", warnings_text(scenario));
    std::vector<FlowMap> maps;
    std::optional<scenarios::Factor> axis;
    if (options.over.empty()) {
        maps.push_back(flow_map(scenario, sweep));
        fmt::print("{}\n\n{}\n{}", scenario.title, map_table(scenario, maps.front(), 24),
                   map_summary(scenario, maps.front()));
    } else {
        axis = factor_of(options);
        // All are read before the first is computed: a value out of range must not cost time.
        const auto all = read_along(options, *axis);
        fmt::print("{}\n\n", scenario.title);
        maps = maps_along(*axis, all, sweep);
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
        text += fmt::format("  {:>14}", stage);
    text += fmt::format("  {:>8}  {:>9}  {}\n", "damping", "frequency", "worst mode");
    text += fmt::format("  {:>12}  {:>12}", "", "");
    for (std::size_t i = 0; i < map.stages.size(); ++i)
        text += fmt::format("  {:>14}", "carries   open");
    text += fmt::format("  {:>8}\n", "ratio");
    const std::size_t stride = std::max<std::size_t>(1, map.points.size() / lines);
    for (std::size_t i = 0; i < map.points.size(); ++i) {
        const auto& point = map.points[i];
        const bool last = i + 1 == map.points.size();
        const bool changes = i > 0 && map.points[i - 1].steady != point.steady;
        if (i % stride != 0 && !changes && !last)
            continue;
        text += fmt::format("  {:>12}  {:>12}", format_quantity(point.flow, Dimension::flow, units),
                            format_quantity(point.outlet_pressure, Dimension::pressure, units));
        for (const auto& stage : point.stages)
            text += fmt::format("  {:>5.0f} %  {:>3.0f} %", 100 * stage.flow / point.flow,
                                100 * std::max(stage.open, 0.0)); // a shut seat yields a little
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
    if (const auto* least = map.least_damped())
        text += fmt::format("Least damped where steady: {} at {:.2g} Hz, damping ratio {:.2g}, at {}\n",
                            least->mode, least->worst.frequency, least->worst.damping_ratio,
                            flow_text(scenario, least->flow));
    if (std::isfinite(map.wide_open))
        text += fmt::format("WIDE OPEN from {}: above it nothing holds the outlet pressure\n",
                            flow_text(scenario, map.wide_open));
    const auto lowest = flow_text(scenario, map.points.front().flow);
    const auto highest = flow_text(scenario, map.points.back().flow);
    if (map.unsteady.empty())
        return text
               + fmt::format("Steady over the whole range, {} to {} (rangeability at least {:.3g})\n", lowest,
                             highest, map.rangeability());
    if (map.unsteady.back().to_end)
        return text + fmt::format("No minimum continuous flow: {} is unsteady\n", highest);
    return text
           + fmt::format("Minimum continuous flow {}; steady from there to {} (rangeability {:.3g})\n",
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
    command->add_option(
        "--over", options->over,
        "second axis, any key: main.air_in_cover=\"0 mL\"..\"300 mL\", or main.hardware=a/DN50,a/DN65");
    command->add_option("--over-points", options->over_points, "number of its values from end to end")
        ->check(CLI::Range(2, 10000))
        ->capture_default_str();
    command->add_option("--spacing", options->spacing, "of its values")
        ->check(CLI::IsMember({"linear", "log"}))
        ->capture_default_str();
    add_set(*command, options->set);
    command->callback([options, &action] { action = [options] { return map(*options); }; });
}

} // namespace needleturn
