#include "tools/commands/step_seen.h"

#include "tools/commands/finding_text.h"
#include "tools/commands/hunting_text.h"
#include "tools/commands/rehearse.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::UnitSystem;

std::string pressure(double value, UnitSystem units) {
    return scenarios::format_quantity(value, Dimension::pressure, units);
}

std::string gauge(double value, UnitSystem units) {
    return fmt::format("{} {}", gauge_text(value, units),
                       scenarios::display_unit(Dimension::pressure, units));
}

std::string waiting(std::span<const RehearsalStep> steps, UnitSystem units) {
    double longest = 0;
    for (const auto& step : steps) {
        if (step.hunts() && (std::isinf(step.wait) || !step.hunting.hunts()))
            return fmt::format("Not steady: {}{}.", step_hunting(step, units),
                               steps.size() > 1 ? fmt::format(" at {:.2f} turns", step.screw) : "");
        longest = std::max(longest, step.wait);
    }
    if (std::isinf(longest))
        return fmt::format("The outlet gauge still moves {:.0f} s after the last adjustment.",
                           steps.front().end - steps.front().hands_off);
    const double seconds = std::ceil(longest);
    if (seconds == 0)
        return steps.size() > 1 ? "The outlet gauge follows at once." : "The outlet gauge is steady at once.";
    return fmt::format("Wait {:.0f} s{} until the outlet gauge is steady.", seconds,
                       steps.size() > 1 ? " after each turn" : "");
}

/// Of a step that ends with a stem that sticks; begins with a space. Empty of others.
std::string stuck_after(std::span<const RehearsalStep> steps) {
    for (const auto& step : steps)
        if (auto text = stuck_text(step.stability); !text.empty()) {
            text.front() = 'T';
            return fmt::format(" {}.", text);
        }
    return "";
}

/// What the turns of a sustaining screw show: they press against nothing where the inlet stays above what it is set to.
std::string sustaining_aim_text(std::span<const RehearsalStep> turns, UnitSystem units) {
    const auto &before = turns.front().before, &after = turns.back().after;
    const double rise = after.inlet - before.inlet, fall = before.outlet - after.outlet;
    const auto arrive = fmt::format("arrive at {} on the inlet gauge and {} on the outlet gauge",
                                    gauge(after.inlet, units), gauge(after.outlet, units));
    if (rise > noticed || fall > noticed)
        return fmt::format(
            "{}: it holds water back, the inlet {} higher and the outlet {} lower than with its "
            "spring slack",
            arrive, gauge(rise, units), gauge(fall, units));
    return arrive
           + ": neither moves, at this flow the inlet stays above what it holds, and the turns alone say how "
             "far to go";
}

} // namespace

std::string step_hunting(const RehearsalStep& step, UnitSystem units) {
    if (step.hunting.hunts())
        return fmt::format("hunts {} peak to peak at {}", pressure(step.hunting.peak_to_peak, units),
                           frequency_text(step.hunting.frequency));
    const auto& stability = step.stability;
    if (!stability.cycle_known && stability.span < visible_flicker)
        return fmt::format("rests only until something disturbs it: small motions double in {} ({}){}",
                           doubling_text(stability.doubling_time()), frequency_text(stability.mode.frequency),
                           unseen_growth_text(stability.doubling_time()));
    return fmt::format(
        "rests only until something disturbs it, then hunts {}{} peak to peak at {}",
        pressure(stability.swing(), units), stability.cycle_known ? "" : " or more",
        frequency_text(stability.frequency > 0 ? stability.frequency : stability.mode.frequency));
}

std::string wait_text(std::span<const RehearsalStep> steps, UnitSystem units) {
    return waiting(steps, units) + stuck_after(steps);
}

std::string passing_text(std::span<const RehearsalStep> steps, UnitSystem units) {
    double lowest = steps.front().lowest, highest = steps.front().highest;
    for (const auto& step : steps) {
        lowest = std::min(lowest, step.lowest);
        highest = std::max(highest, step.highest);
    }
    const auto [low, high] = std::minmax(steps.front().before.outlet, steps.back().after.outlet);
    const bool dips = lowest<low - noticed, rises = highest> high + noticed;
    if (!dips && !rises)
        return "";
    return fmt::format("Meanwhile the outlet gauge goes{}{}{}.",
                       dips ? " down to " + gauge(lowest, units) : "", dips && rises ? " and" : "",
                       rises ? " up to " + gauge(highest, units) : "");
}

std::string aim_text(const Rehearsal& usual, std::span<const RehearsalStep> turns) {
    const auto units = usual.scenario.units;
    if (turns.front().id.task == Task::turn_sustaining_screw)
        return sustaining_aim_text(turns, units);
    const auto& last = turns.back();
    double highest = 0;
    for (const auto& step : usual.steps)
        if (step.id.task == Task::stop)
            highest = step.after.outlet;
    const double below = highest - last.after.outlet;
    const bool flows = last.flow > nothing_flows;
    if (below < -noticed && !flows)
        return fmt::format("the gauge stays at {}, {} above what the station reads at rest: the line keeps "
                           "what was shut in; what the screw holds shows when an outlet has run for a moment",
                           gauge(last.after.outlet, units), gauge(-below, units));
    const bool eased = usual.scenario.stages[turns.front().id.stage].night_setting.has_value();
    return fmt::format(
        "arrive at {} {}: {}", gauge(last.after.outlet, units), flows ? "with water flowing" : "with no flow",
        std::abs(below) > noticed
            ? fmt::format("{} {} what the station reads at rest, {}{}", gauge(std::abs(below), units),
                          below > 0 ? "below" : "above", gauge(highest, units),
                          eased ? ", when its night setting eases it" : "")
            : "what the station is to read at rest");
}

} // namespace needleturn
