#include "tools/commands/verdict_text.h"

#include "scenarios/connected.h"
#include "scenarios/limits.h"
#include "scenarios/units.h"
#include "tools/commands/event_end_text.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/fixed_number.h"
#include "tools/commands/hunting_text.h"
#include "tools/commands/relief_text.h"
#include "tools/commands/site_record_text.h"
#include "tools/commands/surge_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/studies/limits_kept.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <optional>
#include <utility>
#include <vector>

namespace needleturn {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::UnitSystem;

std::string set_pressure_text(const scenarios::Stage& stage, UnitSystem units) {
    const auto pressure = [&](double value) { return format_quantity(value, Dimension::pressure, units); };
    const auto flow = [&](double value) { return format_quantity(value, Dimension::flow, units); };
    auto static_pressure = pressure(stage.set_pressure) + " static";
    if (!stage.night_setting)
        return static_pressure;
    return fmt::format("{} by day (from {} through it), {} by night (up to {})", static_pressure,
                       flow(stage.night_setting->above), pressure(scenarios::lowest_setting(stage)),
                       flow(stage.night_setting->below));
}

namespace {

/// A table cell: as many decimals as a gauge or a meter shows, the same in every row.
std::string number(double si, Dimension dimension, UnitSystem units) {
    return fixed_number(scenarios::in_display_unit(si, dimension, units), units == UnitSystem::us ? 1 : 2);
}

std::string settling_text(const EventVerdict& event) {
    if (std::isnan(event.settling_time))
        return "";
    if (std::isinf(event.settling_time))
        return "does not";
    return fmt::format("{:.1f} s", event.settling_time);
}

std::string strikes_text(const EventVerdict& event, UnitSystem units) {
    std::string text;
    const auto add = [&](std::size_t strikes, const char* part) {
        if (strikes > 0)
            text += fmt::format("; strikes the {} {}", part,
                                strikes == 1 ? "once" : fmt::format("{} times", strikes));
    };
    add(event.seat_strikes, "seat");
    add(event.stop_strikes, "stop");
    if (!text.empty())
        text += fmt::format(" at up to {}", format_quantity(event.hardest_strike, Dimension::speed, units));
    return text;
}

std::string turns_text(double turns) { return fmt::format("{:.4g} turn{}", turns, turns == 1 ? "" : "s"); }

/// The settings a reader needs beside the figures.
std::string settings_text(const scenarios::Scenario& scenario) {
    const auto units = scenario.units;
    std::string text =
        fmt::format("supply {}", format_quantity(scenario.supply.pressure, Dimension::pressure, units));
    for (const auto& stage : scenario.stages) {
        text += fmt::format("; {}{} ({}): set {}", stage.first_step ? "first step, " : "", stage.name,
                            scenarios::name_of(stage.hardware), set_pressure_text(stage, units));
        if (stage.sustaining_pressure)
            text += fmt::format(", sustains {} ahead of it",
                                format_quantity(*stage.sustaining_pressure, Dimension::pressure, units));
        if (stage.pilot_operated())
            text += fmt::format(", opening control {}, closing control {}, air in cover {}",
                                turns_text(stage.opening_control), turns_text(stage.closing_control),
                                stage.air_in_cover.volume > 0
                                    ? format_quantity(stage.air_in_cover.volume, Dimension::volume, units)
                                    : "none");
        if (stage.cock && *stage.cock < 1)
            text += fmt::format(", inlet cock {:.0f} % open", 100 * *stage.cock);
        if (stage.outlet_cock && *stage.outlet_cock < 1)
            text += fmt::format(", outlet cock {:.0f} % open", 100 * *stage.outlet_cock);
    }
    text += stands_as_text(scenario);
    return text;
}

/// A pressure that stays above what the pilot is set to, locked up with nothing drawn or not shut yet; a setting that is not there
/// yet.
std::string above_setting_text(const EventVerdict& event, const scenarios::Scenario& scenario) {
    std::string text;
    if (event.above_setting() > scenario.accept.settling_band)
        text = fmt::format("; ends {} above the set pressure{}",
                           format_quantity(event.above_setting(), Dimension::pressure, scenario.units),
                           event.above_setting() != -event.fall_off ? " of when the flow stopped" : "");
    for (const auto& seen : event.night)
        if (seen.moves())
            text += fmt::format("; the night setting of {} still moves", seen.stage);
    return text;
}

/// What nobody needs to ask for: a demand that is not met, a vacuum.
std::string shortfall_text(const EventVerdict& event, const scenarios::Scenario& scenario) {
    std::string text;
    if (event.falls_short())
        text += fmt::format("; DEMAND NOT MET, {} of {}",
                            format_quantity(event.flow, Dimension::flow, scenario.units),
                            format_quantity(event.wanted, Dimension::flow, scenario.units));
    if (event.has_vacuum())
        text += fmt::format("; VACUUM at the outlet, down to {}",
                            format_quantity(event.lowest, Dimension::pressure, scenario.units));
    return text;
}

/// Limits along the line, each with the event that comes nearest to it; empty: none is stated.
std::string along_the_line_text(const scenarios::Scenario& scenario,
                                const std::vector<EventVerdict>& verdict) {
    std::string text;
    for (const auto& limit : scenarios::stated_limits(scenario.accept)) {
        if (limit.what.entry().of == scenarios::LimitOf::valve_outlet)
            continue;
        if (const auto worst = worst_event(limit, verdict)) {
            const auto& event = verdict[worst->event].event;
            text += fmt::format("    {} (at {:.4g} s: {})\n", finding_text(worst->figure, scenario.units),
                                event.at, event.what);
        } else {
            text += fmt::format("    {}: no event has anything that it limits\n", limit.what.name());
        }
    }
    return text.empty() ? text : "  along the line, each at its worst:\n" + text;
}

/// The last line: what the exit code says, and what was not asked.
std::string pass_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict) {
    const auto hunting =
        std::ranges::count_if(verdict, [](const EventVerdict& event) { return event.hunts(); });
    const auto unasked = !scenario.accept.hunting_peak_to_peak && hunting > 0
                             ? fmt::format("; hunting has none, and {} of {} events hunt{}", hunting,
                                           verdict.size(), hunting == 1 ? "s" : "")
                             : "";
    if (!scenarios::states_a_limit(scenario.accept))
        return "NOT JUDGED: no limit is stated under [accept]\n";
    const auto knock = knock_text(scenario);
    // Where nothing is drawn nothing is knocked, nor what still moves.
    const auto knocks =
        std::ranges::count_if(verdict, [](const EventVerdict& event) { return event.stability.knocked; });
    const auto ends = std::cmp_equal(knocks, verdict.size())
                          ? std::string("each event")
                          : fmt::format("{} of {} events", knocks, verdict.size());
    const auto knocked = scenario.accept.hunting_peak_to_peak && knocks > 0
                             ? fmt::format(", that on hunting also after {} at the end of {}", knock, ends)
                             : "";
    const auto* const at_flows =
        std::ranges::any_of(verdict,
                            [](const EventVerdict& event) { return event.course && event.stability.knocked; })
            ? ", of a log or draws at the least and the greatest flow asked"
            : "";
    const auto held = std::ranges::count_if(
        verdict, [](const EventVerdict& event) { return event.stability.holds_stuck(); });
    const auto stuck =
        held > 0 ? fmt::format(
            "; in {} of {} events a stem with friction stands that the knock did not break loose", held,
            verdict.size())
                 : "";
    return fmt::format("PASS: every stated limit is kept{}{}{}{}\n", knocked, knocked.empty() ? "" : at_flows,
                       unasked, stuck);
}

} // namespace

std::string cells_text(const Outcome& outcome) {
    std::vector<std::string> pipes;
    double worst = 0;
    bool refined = false;
    for (const auto& grid : outcome.grids) {
        std::string text = grid.refinement > 1 ? fmt::format("{} {} and {}", grid.pipe,
                                                             grid.cells / grid.refinement, grid.cells)
                                               : fmt::format("{} {}", grid.pipe, grid.cells);
        if (grid.as_stated)
            text += " as stated";
        if (!grid.resolved)
            text += " (lumped)";
        else if (grid.good_to() < scenarios::resolved_frequency)
            text += fmt::format(" (of {:.0f}: waves to {:.2g} Hz)", grid.wanted, grid.good_to());
        pipes.push_back(std::move(text));
        refined = refined || grid.refinement > 1;
        worst = std::max(worst, grid.height_error(outcome.fastest_change));
    }
    std::string changes;
    if (outcome.fastest_change == 0)
        changes = " and jumps";
    else if (std::isfinite(outcome.fastest_change))
        changes = fmt::format(" and changes within {:.3g} s", outcome.fastest_change);
    std::string heights;
    if (refined)
        heights = "; run on both grids, peaks and troughs within three times their difference";
    else if (worst > 0)
        heights = fmt::format("; peaks and troughs within {:.2g} % of the sudden change", 100 * worst);
    return fmt::format("cells, for waves to {:g} Hz{}: {}{}", scenarios::resolved_frequency, changes,
                       fmt::join(pipes, ", "), heights);
}

std::string verdict_text(const scenarios::Scenario& scenario, const Outcome& outcome) {
    const auto units = scenario.units;
    std::string text = fmt::format("{}\n", scenario.title);
    auto out = std::back_inserter(text);
    if (!scenario.question.empty())
        fmt::format_to(out, "{}\n", scenario.question);
    fmt::format_to(out, "  {}\n{}\n", settings_text(scenario), warnings_text(outcome.record.warnings));

    const auto pressure_unit = scenarios::display_unit(Dimension::pressure, units);
    const auto flow_unit = scenarios::display_unit(Dimension::flow, units);
    std::size_t widest = 5;
    for (const auto& event : outcome.verdict)
        widest = std::max(widest, event.event.what.size());
    fmt::format_to(out, "  {:>7}  {:<{}}  {:>7}  {:>8}  {:>8}  {:>7}  {:>7}  {:>8}  {}\n", "at", "event",
                   widest, "flow", "flowing", "fall-off", "lowest", "highest", "settles", "outlet pressure");
    fmt::format_to(out, "  {:>7}  {:<{}}  {:>7}  {:>8}  {:>8}  {:>7}  {:>7}\n", "s", "", widest, flow_unit,
                   pressure_unit, pressure_unit, pressure_unit, pressure_unit);
    const auto pressure = [&](double value) { return number(value, Dimension::pressure, units); };
    for (const auto& event : outcome.verdict) {
        fmt::format_to(out, "  {:>7.4g}  {:<{}}  {:>7}  {:>8}  {:>8}  {:>7}  {:>7}  {:>8}  {}{}{}\n",
                       event.event.at, event.event.what, widest, number(event.flow, Dimension::flow, units),
                       pressure(event.flowing_pressure),
                       std::isnan(event.fall_off) ? std::string() : pressure(event.fall_off),
                       pressure(event.lowest), pressure(event.highest), settling_text(event),
                       hunting_text(event, scenario), above_setting_text(event, scenario),
                       shortfall_text(event, scenario) + strikes_text(event, units));
    }
    fmt::format_to(out, "\n");
    text += surge_text(scenario, outcome.verdict, outcome.surges) + relief_text(scenario, outcome.verdict)
            + event_ends_text(scenario, outcome.verdict) + along_the_line_text(scenario, outcome.verdict);
    if (!outcome.record.failure.empty())
        fmt::format_to(out, "INCOMPLETE: {}\n", outcome.record.failure);
    std::size_t failed = 0, undecided = 0;
    for (const auto& event : outcome.verdict) {
        failed += event.breaks() ? 1 : 0;
        undecided += event.is_undecided() ? 1 : 0;
        if (!event.passed())
            fmt::format_to(out, "  {} (at {:.4g} s): {}\n", event.event.what, event.event.at,
                           fmt::join(finding_texts(event.findings, units), "; "));
    }
    if (failed > 0)
        fmt::format_to(out, "FAIL: {} of {} events break a limit\n", failed, outcome.verdict.size());
    else if (undecided > 0)
        fmt::format_to(out, "UNDECIDED: of {} of {} events it is not known whether every limit is kept\n",
                       undecided, outcome.verdict.size());
    else if (outcome.passed)
        text += pass_text(scenario, outcome.verdict);
    return text;
}

std::string caution_text() {
    return "Pressurised water hurts people. This is a simulation with generic hardware: prove every setting "
           "on site, "
           "relieve pressure before\nopening anything, and follow local codes and licensed practice.\n";
}

} // namespace needleturn
