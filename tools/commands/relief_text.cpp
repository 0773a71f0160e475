#include "tools/commands/relief_text.h"

#include "scenarios/connected.h"
#include "scenarios/demands.h"
#include "scenarios/limits.h"
#include "scenarios/units.h"
#include "tools/studies/stuck_open.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <iterator>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::ReliefValve;
using scenarios::UnitSystem;

std::string frequency(double hertz) { return fmt::format("{:.2g} Hz", hertz); }

/// What it does in an event in which it is open.
std::string event_text(const ReliefValve& relief, const ReliefVerdict& seen, UnitSystem units) {
    std::string text = seen.open_at_start
                           ? std::string("open from its beginning")
                           : fmt::format("opens at {:.4g} s, at {} or more", seen.opens_at,
                                         format_quantity(relief.set_pressure, Dimension::pressure, units));
    if (seen.openings > 1)
        text += fmt::format(", {} times in all", seen.openings);
    text += fmt::format("; highest {} there, {:.0f} % of its lift; lets out {} in {:.3g} s",
                        format_quantity(seen.highest, Dimension::pressure, units),
                        100 * std::min(seen.highest_lift / relief.lift(), 1.0),
                        format_quantity(seen.volume, Dimension::volume, units), seen.open_for);
    if (seen.chatters())
        text += fmt::format("; CHATTERS at {}, strikes its seat at up to {}", frequency(seen.frequency),
                            format_quantity(seen.hardest, Dimension::speed, units));
    else if (seen.flutters())
        text += fmt::format("; FLUTTERS at {}, off its seat", frequency(seen.frequency));
    return text
           + (seen.open_at_end ? "; STILL OPEN at the end"
                               : fmt::format("; shut again at {:.4g} s", seen.shuts_at));
}

/// What comes with the largest valve stuck open, and whether it is more than the relief valves are there for.
std::string stuck_open_text(const scenarios::Scenario& scenario) {
    const auto stuck = stuck_open(scenario);
    if (!stuck)
        return "";
    const auto units = scenario.units;
    const auto pressure = [&](double value) { return format_quantity(value, Dimension::pressure, units); };
    const auto with =
        fmt::format("    with {} stuck wide open{} and nothing drawn", stuck->stage,
                    scenarios::in_two_steps(scenario.stages) ? ", the first step as it is set," : "");
    if (!stuck->found)
        return with + ": not found, for the search came to no steady state\n";
    std::string text;
    std::size_t i = 0;
    scenarios::visit_reliefs(scenario, [&](const ReliefValve& relief, const scenarios::Branch*) {
        const auto& at = stuck->reliefs[i++];
        if (!(at.lift > 0)) {
            text += fmt::format("{} {} stays shut: {} there\n", with, scenarios::spoken_place(relief.name),
                                pressure(at.pressure));
            return;
        }
        const double beyond = at.pressure - relief.full_pressure();
        text += fmt::format(
            "{} {} passes {} at {}{}\n", with, scenarios::spoken_place(relief.name),
            format_quantity(at.flow, Dimension::flow, units), pressure(at.pressure),
            beyond > 0 ? fmt::format(": {} above the pressure at which it is fully open: TOO SMALL for that",
                                     pressure(beyond))
                       : fmt::format(", {:.0f} % of its lift: it holds the pressure it is made for",
                                     100 * std::clamp(at.lift / relief.lift(), 0.0, 1.0)));
    });
    return text;
}

} // namespace

std::string relief_place(const ReliefValve& relief, const scenarios::Branch* branch) {
    if (branch != nullptr)
        return "at " + scenarios::spoken_place(branch->name);
    return relief.at == ReliefValve::At::near_end ? "at the outlet" : "at the far end";
}

std::string relief_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict) {
    const auto units = scenario.units;
    const auto pressure = [&](double value) { return format_quantity(value, Dimension::pressure, units); };
    std::string text;
    std::size_t i = 0;
    scenarios::visit_reliefs(scenario, [&](const ReliefValve& relief, const scenarios::Branch* branch) {
        const auto at = i++;
        std::string events;
        double highest = 0;
        for (const auto& event : verdict) {
            if (at >= event.reliefs.size())
                return;
            const auto& seen = event.reliefs[at];
            highest = std::max(highest, seen.highest);
            if (seen.opens())
                events += fmt::format("    {} (at {:.4g} s): {}\n", event.event.what, event.event.at,
                                      event_text(relief, seen, units));
        }
        text += fmt::format(
            "  {} {}: a relief valve set to {}, fully open at {}, where it passes {}, shut again "
            "at {}\n{}",
            scenarios::spoken_place(relief.name), relief_place(relief, branch), pressure(relief.set_pressure),
            pressure(relief.full_pressure()), format_quantity(relief.full_flow(), Dimension::flow, units),
            pressure(relief.shut_pressure()),
            events.empty() ? fmt::format("    stays shut: at the most {} there, {} below its "
                                         "set pressure\n",
                                         pressure(highest), pressure(relief.set_pressure - highest))
                           : events);
    });
    return text + stuck_open_text(scenario);
}

} // namespace needleturn
