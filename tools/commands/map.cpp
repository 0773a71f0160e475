#include "tools/commands/map.h"

#include "scenarios/read_scenario.h"
#include "scenarios/study.h"
#include "scenarios/units.h"
#include "sim/cases_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/family_option.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/interruption.h"
#include "tools/commands/map_text.h"
#include "tools/commands/map_uncertain.h"
#include "tools/commands/outlets_text.h"
#include "tools/commands/print_text.h"
#include "tools/commands/results_place.h"
#include "tools/commands/search_progress.h"
#include "tools/commands/set_option.h"
#include "tools/commands/verdict_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/results/map_file.h"
#include "tools/studies/crew.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/hunting_band.h"
#include "tools/studies/limit_range.h"
#include "tools/studies/simulate.h"
#include "tools/studies/sweep_case.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <functional>
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
    bool force = false;
    std::vector<scenarios::Override> set;
    std::size_t points = 200, over_points = 9;
    std::string spacing = "linear";
    bool small_motions = false; ///< only those: hunting is not followed
    FamilyOption family;
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
    const auto read_at = [&](std::size_t i) {
        auto changed = options.set;
        changed.push_back(axis.set_to(axis.at(i)));
        changed.back().place = fmt::format("--over {}", options.over);
        return scenarios::read_scenario(options.scenario, changed, hardware_folders());
    };
    read_at(axis.size() - 1); // an end that is out of range is told as it is spelt, before a value between
    std::vector<Scenario> all;
    for (std::size_t i = 0; i < axis.size(); ++i)
        all.push_back(read_at(i));
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
        sweep.by_pipes = false;
        if (!(sweep.low > 0 && sweep.high > sweep.low))
            refuse("--flow", options.flow, "must rise from above 0");
    }
    sweep.points = options.points;
    return sweep;
}

enum class Follow { hunting, nothing };

std::function<bool()> go_on_with(SearchProgress& progress) {
    return [&progress] {
        progress.one_more();
        return !interrupted();
    };
}

HuntingSearch search_with(SearchProgress& progress) {
    HuntingSearch search;
    search.threads = all_processors();
    search.go_on = go_on_with(progress);
    return search;
}

/// The one map, its text printed; none if it was interrupted.
std::optional<FlowMap> printed_map(const Scenario& scenario, const FlowSweep& sweep, Follow follow) {
    SearchProgress progress("small motions looked at, at", "flows");
    auto map = flow_map(scenario, sweep, go_on_with(progress));
    progress.clear();
    if (interrupted())
        return {};
    if (follow == Follow::hunting) {
        SearchProgress hunting("hunting followed at", "flows");
        find_hunting(scenario, map, search_with(hunting));
    }
    if (interrupted())
        return {};
    SearchProgress hardware("hardware like this looked at, at", "flows");
    const auto range = limit_range_text(scenario, map, limit_range(scenario, sweep, go_on_with(hardware)));
    hardware.clear();
    if (interrupted())
        return {};
    constexpr std::size_t lines = 24;
    print_text("{}\n\n{}\n{}{}{}", scenario.title, map_table(scenario, map, lines),
               map_summary(scenario, map), range, sweep.by_pipes ? range_end_text(scenario, map) : "");
    return map;
}

/// Printed while it is computed, a line for each place of the axis.
std::vector<FlowMap> maps_along(const scenarios::Factor& axis, const std::vector<Scenario>& scenarios,
                                const FlowSweep& sweep, Follow follow) {
    SearchProgress progress("hunting followed at", "flows");
    const auto search = search_with(progress);
    std::vector<FlowMap> maps;
    std::vector<std::string> places;
    std::size_t width = axis.key.size();
    for (std::size_t i = 0; i < scenarios.size(); ++i) {
        const auto place = axis.at(i);
        places.push_back(axis.dimension ? format_quantity(place.number, *axis.dimension, scenarios[i].units)
                                        : place.text);
        width = std::max(width, places.back().size());
    }
    print_text("  {:>{}}  {:>23}  {:>21}  {}\n", axis.key, width, "minimum continuous flow", "after a knock",
               "unsteady");
    for (std::size_t i = 0; i < scenarios.size(); ++i) {
        const auto& scenario = scenarios[i];
        auto row = flow_map(scenario, sweep);
        if (follow == Follow::hunting)
            find_hunting(scenario, row, coarse(search));
        if (interrupted())
            break;
        std::string bands;
        for (const auto& band : row.unsteady)
            bands +=
                fmt::format("{}{} to {} ({}, {})", bands.empty() ? "" : "; ", flow_text(scenario, band.from),
                            flow_text(scenario, band.to), band.mode, frequency_text(band.frequency));
        if (bands.empty())
            bands = "nowhere";
        if (std::isfinite(row.wide_open))
            bands += fmt::format("; {} from {}", row.held_back_by.empty() ? "wide open" : "held back",
                                 flow_text(scenario, row.wide_open));
        progress.clear();
        print_text("  {:>{}}  {:>23}  {:>21}  {}\n", places[i], width,
                   flow_text(scenario, row.minimum_continuous_flow()),
                   row.hunting_followed ? flow_text(scenario, row.minimum_flow_after_a_knock())
                                        : "not followed",
                   bands);
        std::fflush(stdout);
        // Only the flows of the sweep, as every row of a two-dimensional map has.
        std::erase_if(row.points, &FlowMap::Point::between);
        maps.push_back(std::move(row));
    }
    return maps;
}

int map(const MapOptions& options) {
    refuse_seed_alone(options.family);
    const auto scenario = scenarios::read_scenario(options.scenario, options.set, hardware_folders());
    const auto sweep = sweep_of(options, scenario);
    if (options.family.given()) {
        refuse_beside_family({{"--over", !options.over.empty()}, {"--output", !options.output.empty()}});
        const auto family = family_question(options.family, options.scenario, options.set);
        print_text("{}{}", warnings_text(scenario), shares_line(scenario));
        return run_map_uncertain(family, scenario, sweep);
    }
    const auto path = options.output.empty()
                          ? std::filesystem::path(options.scenario).stem().concat("-map.h5")
                          : std::filesystem::path(options.output);
    check_place({path, "map", {options.scenario}, options.force});
    watch_for_interruption();
    print_text("{}", warnings_text(scenario));
    std::vector<FlowMap> maps;
    std::optional<scenarios::Factor> axis;
    const auto follow = options.small_motions ? Follow::nothing : Follow::hunting;
    if (options.over.empty()) {
        if (auto map = printed_map(scenario, sweep, follow))
            maps.push_back(std::move(*map));
    } else {
        axis = factor_of(options);
        // All are read before the first is computed: a value out of range must not cost time.
        const auto all = read_along(options, *axis);
        print_text("{}\n{}\n", scenario.title, shares_line(scenario));
        maps = maps_along(*axis, all, sweep, follow);
        if (std::ranges::any_of(maps, [](const FlowMap& map) { return !map.sticking.empty(); }))
            print_text("{}", stuck_motions_text());
    }
    if (interrupted()) {
        print_text(stderr, "interrupted: {} was not written\n", path.string());
        return exit_incomplete;
    }
    write_maps(path, scenario, axis, maps, map_summary(scenario, maps.front()));
    print_text("\n  {}\n\n{}", path.string(), caution_text());
    return exit_passed;
}

} // namespace

void add_map(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<MapOptions>();
    auto command = program.add_subcommand("map", "over which flows a station is steady, or hunts once "
                                                 "knocked: shares, fall-off, worst mode, minimum flows");
    command.add_option("scenario", options->scenario, "scenario file (.toml)").required();
    add_force(command, options->force);
    command.add_option("-o,--output", options->output, "HDF5 file (default: <scenario>-map.h5 here)");
    command.add_option("--flow", options->flow,
                       "flows to look at: \"0.1 L/s..20 L/s\" (default: trickle to all the station passes, "
                       "the pipes at 5 m/s at most)");
    command.add_option("--points", options->points, "number of flows")
        .within(2, 100000)
        .capture_default_str();
    command.add_option(
        "--over", options->over,
        "second axis, any key: main.air_in_cover=\"0 mL\"..\"300 mL\", or main.hardware=a/DN50,a/DN65");
    command.add_option("--over-points", options->over_points, "number of its values from end to end")
        .within(2, 10000)
        .capture_default_str();
    command.add_option("--spacing", options->spacing, "of its values")
        .among({"linear", "log"})
        .capture_default_str();
    command.add_flag("--small-motions", options->small_motions,
                     "only whether small motions grow: hunting is not followed, which is quicker");
    add_family(
        command, options->family, "100",
        "the minimum continuous flow of so many valves (default: 100, at least 10) drawn from the ranges of "
        "the hardware, of small motions; writes no file");
    add_set(command, options->set);
    command.callback([options, &action] { action = [options] { return map(*options); }; });
}

} // namespace needleturn
