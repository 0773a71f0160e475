#include "tools/commands/sustaining_text.h"

#include "scenarios/units.h"

#include <fmt/format.h>

namespace needleturn {

std::string sustaining_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict) {
    const auto pressure = [&](double value) {
        return scenarios::format_quantity(value, scenarios::Dimension::pressure, scenario.units);
    };
    std::string events;
    for (const auto& event : verdict)
        for (const auto& seen : event.sustaining) {
            events += fmt::format("    {} (at {:.4g} s): inlet of {} {}, {}: ", event.event.what,
                                  event.event.at, seen.stage, pressure(seen.inlet),
                                  seen.set > 0 ? "set to sustain " + pressure(seen.set)
                                               : "sustaining pilot backed off");
            events += !seen.throttles         ? "the reducing pilot decides\n"
                      : seen.inlet > seen.set ? fmt::format(
                            "holds water back, the outlet gets what is left, {}\n", pressure(seen.outlet))
                                              : "shut, and the main valve with it\n";
        }
    return events.empty() ? "" : "  sustaining pilots, as each event ends:\n" + events;
}

} // namespace needleturn
