#include "tools/commands/map_text.h"

#include "scenarios/demands.h"
#include "scenarios/units.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/outlets_text.h"
#include "tools/studies/night_analysis.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace needleturn {
namespace {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;
using Kind = FlowMap::Kind;
using Band = FlowMap::HuntingBand;

const char* kind_text(Kind kind) {
    switch (kind) {
    case Kind::rests:
        return "";
    case Kind::hunts_once_knocked:
        return "  rests, HUNTS ONCE KNOCKED";
    case Kind::hunts_by_itself:
        return "  UNSTEADY";
    }
    return "";
}

/// What knocks say of unsteady flows at which nothing hunts; begins with "; ".
std::string unseen_text(const Scenario& scenario, const FlowMap::Band& band) {
    if (band.knocks == 0)
        return "";
    if (band.unseen == 0)
        return "; knocks of flows in it that were not seen to hunt did not tell how far small motions grow";
    return fmt::format(
        "; after {} of {} knocks of flows in it that were not seen to hunt small motions grow, "
        "but less than a gauge shows, by {} at most",
        band.unseen, band.knocks, format_quantity(band.unseen_swing, Dimension::pressure, scenario.units));
}

std::string hunting_at(const Scenario& scenario, const Band::Point& point) {
    return fmt::format("{} peak to peak at {} at {}",
                       format_quantity(point.peak_to_peak, Dimension::pressure, scenario.units),
                       frequency_text(point.frequency), flow_text(scenario, point.flow));
}

/// An end of a hunting band that is not the end of the range.
std::string end_text(const Scenario& scenario, const Band::End& end) {
    return fmt::format("{} (+- {}{})", flow_text(scenario, end.flow),
                       flow_text(scenario, std::max(end.uncertainty, 1e-9)),
                       end.undecided ? "; beyond, not decided" : "");
}

/// The flows of a band at which the station rests, but hunts once knocked: what unsteady flows leave of it.
std::string once_knocked_text(const Scenario& scenario, const FlowMap& map, const Band& band) {
    std::string text;
    const auto tell = [&](double from, double to) {
        constexpr double wide = 1.005; // narrower than that is the uncertainty of the ends
        if (to > wide * from)
            text += fmt::format("RESTS, BUT HUNTS ONCE KNOCKED: {} to {}\n", flow_text(scenario, from),
                                flow_text(scenario, to));
    };
    double from = band.from.flow;
    for (const auto& unsteady : map.unsteady) {
        if (unsteady.to < band.from.flow || unsteady.from > band.to.flow)
            continue;
        tell(from, unsteady.from);
        from = std::max(from, unsteady.to);
    }
    tell(from, band.to.flow);
    return text;
}

/// Knocks after which the station stands still where it should not.
std::string not_back_text(const Scenario& scenario, const FlowMap& map) {
    const auto off = [](const FlowMap::Knock& knock) {
        return knock.stands_off ? std::abs(knock.outlet - knock.expected) : 0;
    };
    const auto count = std::ranges::count_if(map.knocks, &FlowMap::Knock::stands_off);
    if (count == 0)
        return "";
    const auto& worst = *std::ranges::max_element(map.knocks, {}, off);
    const auto pressure = [&](double value) {
        return format_quantity(value, Dimension::pressure, scenario.units);
    };
    return fmt::format(
        "NOT BACK: after {} of {} knocks the station stands still elsewhere, or moves too slowly to see; {}, "
        "knocked from {}, at {} instead of {}\n",
        count, map.knocks.size(), flow_text(scenario, worst.flow), flow_text(scenario, worst.from),
        pressure(worst.outlet), pressure(worst.expected));
}

std::string hunting_text(const Scenario& scenario, const FlowMap& map) {
    std::string text;
    for (const auto& band : map.hunting) {
        const auto& most = *std::ranges::max_element(band.points, {}, &Band::Point::peak_to_peak);
        const auto stroke = std::ranges::max_element(most.strokes);
        text += fmt::format("HUNTING, once begun, goes on from {} to {}: {}, {} stroke {}; {}\n",
                            band.from.of_sweep ? "the lowest flow" : end_text(scenario, band.from),
                            band.to.of_sweep ? "the highest flow" : end_text(scenario, band.to),
                            hunting_at(scenario, most),
                            map.stages[static_cast<std::size_t>(stroke - most.strokes.begin())],
                            format_quantity(*stroke, Dimension::length, scenario.units),
                            hunting_at(scenario, band.points.back()));
        text += fmt::format(
            "  (set going at {}, where the demand came at once from {}, and followed from there)\n",
            flow_text(scenario, band.begun_at), flow_text(scenario, band.knocked_from));
        text += once_knocked_text(scenario, map, band);
    }
    text += not_back_text(scenario, map);
    for (const auto& knock : map.knocks)
        if (!knock.returns && !knock.hunts && !knock.stands_off)
            text += fmt::format(
                "UNDECIDED: {}, knocked from {}, neither came to rest nor settled on hunting in the "
                "time it was given\n",
                flow_text(scenario, knock.flow), flow_text(scenario, knock.from));
    return text;
}

/// What ends the summary: the limit once knocked, and the rangeability.
std::string after_a_knock_text(const Scenario& scenario, const FlowMap& map) {
    const double limit = map.minimum_flow_after_a_knock();
    const std::string range = !std::isfinite(limit) ? ""
                              : map.unsteady.empty() && map.hunting.empty()
                                  ? fmt::format(" (rangeability at least {:.3g})", map.rangeability())
                                  : fmt::format(" (rangeability {:.3g})", map.rangeability());
    if (!map.hunting_followed)
        return range + "\nSmall motions only: hunting was not followed, and a knock was not tried\n";
    const auto returned = std::ranges::count_if(map.knocks, [&](const auto& knock) { return knock.returns; });
    const auto tried = fmt::format("{} of {} knocks of steady flows outside hunting came back to rest",
                                   returned, map.knocks.size());
    if (!std::isfinite(limit))
        return fmt::format("\nNo minimum flow after a knock: hunting goes on to the highest flow; {}\n",
                           tried);
    if (map.hunting.empty())
        return fmt::format("{}\nNo hunting found after a knock; {}\n", range, tried);
    return fmt::format("\nMinimum flow after a knock {}{}; {}\n", flow_text(scenario, limit), range, tried);
}

/// How far friction leaves open what each of several main valves carries: a line, or none.
std::string shared_text(const Scenario& scenario, const FlowMap& map) {
    const auto open_share = [](const FlowMap::Point& point) {
        double most = 0;
        for (const auto& stage : point.stages)
            most = std::max(most, point.most_share(stage) - point.least_share(stage));
        return most;
    };
    const auto& widest = *std::ranges::max_element(map.points, {}, open_share);
    constexpr double told = 0.02; // of the flow
    if (open_share(widest) < told)
        return "";
    std::vector<std::string> shares;
    for (std::size_t i = 0; i < map.stages.size(); ++i)
        if (const auto& stage = widest.stages[i];
            widest.most_share(stage) - widest.least_share(stage) >= told)
            shares.push_back(fmt::format("{} may carry {:.0f} to {:.0f} %", map.stages[i],
                                         100 * widest.least_share(stage), 100 * widest.most_share(stage)));
    return fmt::format(
        "  How main valves share depends on how their stems came to stand, most at {}: {}; the "
        "table has the middle of the band\n",
        flow_text(scenario, widest.flow), fmt::join(shares, ", "));
}

/// What stems that stick make of the map.
std::string sticking_text(const Scenario& scenario, const FlowMap& map) {
    if (map.sticking.empty())
        return "";
    const auto pressure = [&](double value) {
        return format_quantity(value, Dimension::pressure, scenario.units);
    };
    std::string text;
    for (const auto& stem : map.sticking)
        text += fmt::format("The stem of {} sticks up to {}, {} on its diaphragm\n", stem.name,
                            format_quantity(stem.breakaway, Dimension::force, scenario.units),
                            pressure(stem.on_diaphragm));
    const auto width = [](const FlowMap::Point& point) { return point.outlet_highest - point.outlet_lowest; };
    const auto& widest = *std::ranges::max_element(map.points, {}, width);
    const auto low = pressure(widest.outlet_lowest), high = pressure(widest.outlet_highest);
    text +=
        fmt::format("  So at rest the outlet may stand anywhere {} at {}, where that band is widest ({})\n",
                    low == high ? "in a band about " + low : fmt::format("between {} and {}", low, high),
                    flow_text(scenario, widest.flow), pressure(width(widest)));
    return text + shared_text(scenario, map) + stuck_motions_text();
}

} // namespace

std::string stuck_motions_text() {
    return "  Small motions above are those of stems that stick, in the middle of the band; what breaks them "
           "away is told by runs and knocks alone\n";
}

std::string flow_text(const Scenario& scenario, double flow) {
    return std::isfinite(flow) ? format_quantity(flow, Dimension::flow, scenario.units) : "none";
}

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
        const auto kind = map.kind_at(point);
        const bool changes = i > 0 && map.kind_at(map.points[i - 1]) != kind;
        if (i % stride != 0 && !changes && !last)
            continue;
        text += fmt::format("  {:>12}  {:>12}", format_quantity(point.flow, Dimension::flow, units),
                            format_quantity(point.outlet_pressure, Dimension::pressure, units));
        for (const auto& stage : point.stages)
            text += fmt::format("  {:>5.0f} %  {:>3.0f} %",
                                std::round(100 * point.share(stage)) + 0.0, // no -0
                                100 * std::clamp(stage.open, 0.0, 1.0));    // seat and stop yield a little
        text +=
            fmt::format("  {:>8.3f}  {:>6.2f} Hz  {}{}{}\n", point.worst.damping_ratio, point.worst.frequency,
                        point.mode, kind_text(kind), map.grows_unseen(point) ? ", not seen to hunt" : "");
    }
    return text;
}

std::string range_end_text(const Scenario& scenario, const FlowMap& map) {
    return fmt::format("The map ends at {}, where water in the narrower main runs at {}; the stages pass "
                       "more: --flow goes on\n",
                       flow_text(scenario, map.points.back().flow),
                       format_quantity(fastest_in_mains, Dimension::speed, scenario.units));
}

std::string limit_range_text(const Scenario& scenario, const FlowMap& map, const LimitRange& range) {
    const bool sticks = !map.sticking.empty();
    const auto varied = fmt::format("line storage -{0:.0f} to +{0:.0f} %", 100 * storage_spread);
    const double lowest = map.points.front().flow;
    if (range.high <= lowest)
        return fmt::format("Steady over the whole range with {}{}, too\n", varied,
                           sticks ? " and without friction of stems" : "");
    // Two digits, rounded outwards.
    const auto rounded = [&](double flow, auto&& whole) {
        const double shown = scenarios::in_display_unit(flow, Dimension::flow, scenario.units);
        const double digit = std::pow(10, std::floor(std::log10(shown)) - 1);
        return fmt::format("{:.4g}", whole(shown / digit) * digit);
    };
    const auto unit = scenarios::display_unit(Dimension::flow, scenario.units);
    const auto low = [&] { return rounded(range.low, [](double x) { return std::floor(x); }); };
    const auto high = [&] { return rounded(range.high, [](double x) { return std::ceil(x); }); };
    const bool ends = std::isfinite(range.high);
    std::string where;
    if (!std::isfinite(range.low))
        where = "at every flow of this map";
    else if (range.low <= lowest)
        where = ends ? fmt::format("nowhere on this map or at flows up to {} {}", high(), unit)
                     : "nowhere on this map or at every flow of it";
    else
        where = ends ? fmt::format("at flows up to {} to {} {}", low(), high(), unit)
                     : fmt::format("at flows up to {} {} or at every flow of this map", low(), unit);
    return fmt::format(
        "{} hunts by itself {}: {}.\n  {}, and what a knock does was followed for the hardware as given "
        "only\n",
        sticks ? "Without friction of its stems, hardware like this" : "Hardware like this", where, varied,
        sticks ? "How much friction calms hangs on the knock" : "Stem friction was not varied");
}

/// What relief valves let out at rest. What hunting opens is not known of it.
std::string relief_text(const Scenario& scenario, const FlowMap& map) {
    std::string names;
    visit_reliefs(scenario, [&](const scenarios::ReliefValve& relief, const scenarios::Branch*) {
        names += (names.empty() ? "" : ", ") + relief.name;
    });
    if (names.empty())
        return "";
    const auto& most = *std::ranges::max_element(map.points, {}, &FlowMap::Point::relieved);
    constexpr double shows = 1e-7; // m3/s: a drop a second is 5e-8
    if (most.relieved < shows)
        return fmt::format("Relief valves ({}) stay shut at rest over the whole range; what hunting or a "
                           "change of demand opens is "
                           "told by runs alone\n",
                           names);
    const auto open = [](const FlowMap::Point& point) { return point.relieved >= shows; };
    const auto first = std::ranges::find_if(map.points, open);
    const auto last = std::find_if(map.points.rbegin(), map.points.rend(), open);
    return fmt::format("RELIEF VALVES ({}) STAND OPEN at rest from {} to {} through the station: of {} "
                       "there, {} goes to waste\n",
                       names, flow_text(scenario, first->flow), flow_text(scenario, last->flow),
                       flow_text(scenario, most.flow), flow_text(scenario, most.relieved));
}

namespace {

/// From night to day: at which flows of the map the setting of a stage changes, and what the outlet has there.
std::string night_text(const Scenario& scenario, const FlowMap& map) {
    const auto pressure = [&](double value) {
        return format_quantity(value, Dimension::pressure, scenario.units);
    };
    std::string text;
    for (std::size_t stage = 0; stage < map.stages.size(); ++stage) {
        const auto& first = map.points.front().stages[stage];
        if (std::isnan(first.below_day))
            continue;
        const auto shift = [&](bool day, const char* word, bool from_start) {
            const auto found = std::ranges::find_if(map.night_shifts, [&](const FlowMap::NightShift& each) {
                return each.stage == stage && each.day == day;
            });
            return found != map.night_shifts.end()
                       ? fmt::format("{} {} (outlet {})", word, flow_text(scenario, found->flow),
                                     pressure(found->outlet_pressure))
                   : from_start != day ? std::string("nowhere in the map")
                                       : std::string("over the whole map");
        };
        text += fmt::format("Night setting of {}: by night {}; by day {}\n", map.stages[stage],
                            shift(false, "up to", first.above_night > at_an_end),
                            shift(true, "from", first.below_day <= at_an_end));
    }
    if (const auto& two = map.two_states)
        text += fmt::format(
            "TWO STATES: found from {} to {}, where the outlet may stand at {} or at {}, whichever it comes "
            "from: the night setting takes off much over few flows\n",
            flow_text(scenario, two->from), flow_text(scenario, two->to), pressure(two->low),
            pressure(two->high));
    return text;
}

} // namespace

std::string map_summary(const Scenario& scenario, const FlowMap& map) {
    const auto pressure = [&](double value) {
        return format_quantity(value, Dimension::pressure, scenario.units);
    };
    std::string text = shares_line(scenario);
    if (const auto first = names_in_step(scenario, true); !first.empty())
        text += fmt::format(
            "What {} carries, the first step, goes through {} as well, but for what is drawn between\n",
            first, names_in_step(scenario, false));
    for (const auto& over : map.hand_overs)
        text += fmt::format("{} begins to carry at {}, outlet {}, fall-off {}\n", map.stages[over.stage],
                            flow_text(scenario, over.flow), pressure(over.outlet_pressure),
                            pressure(over.fall_off));
    text += night_text(scenario, map);
    for (const auto& band : map.unsteady)
        text += fmt::format("{}: {} to {}, {} at {}{}\n", band.from_start ? "UNSTEADY" : "DEAD ZONE",
                            band.from_start ? "lowest flow" : flow_text(scenario, band.from),
                            band.to_end ? "highest flow" : flow_text(scenario, band.to), band.mode,
                            frequency_text(band.frequency), unseen_text(scenario, band));
    text += hunting_text(scenario, map) + relief_text(scenario, map);
    if (const auto* least = map.least_damped())
        text += fmt::format("Least damped where steady: {} at {}, damping ratio {:.2g}, at {}\n", least->mode,
                            frequency_text(least->worst.frequency), least->worst.damping_ratio,
                            flow_text(scenario, least->flow));
    if (std::isfinite(map.wide_open))
        text += fmt::format(
            "{} from {}: above it {}nothing holds the outlet pressure\n",
            map.held_back_by.empty() ? "WIDE OPEN" : "HELD BACK", flow_text(scenario, map.wide_open),
            map.held_back_by.empty()
                ? ""
                : fmt::format("the sustaining pilot of {} holds the inlet, and ", map.held_back_by));
    const auto lowest = flow_text(scenario, map.points.front().flow);
    const auto highest = flow_text(scenario, map.points.back().flow);
    if (map.unsteady.empty())
        text += fmt::format("{} over the whole range, {} to {}",
                            map.sticking.empty() ? "Steady" : "At rest while stems stick", lowest, highest);
    else if (map.unsteady.back().to_end)
        text += fmt::format("No minimum continuous flow: {} is unsteady", highest);
    else
        text += fmt::format("Minimum continuous flow {}; {} from there to {}",
                            flow_text(scenario, map.minimum_continuous_flow()),
                            map.sticking.empty() ? "steady" : "at rest while stems stick", highest);
    return text + after_a_knock_text(scenario, map) + sticking_text(scenario, map);
}

} // namespace needleturn
