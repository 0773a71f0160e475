#include "tools/commands/strainer_text.h"

#include "scenarios/connected.h"
#include "scenarios/units.h"

#include <fmt/format.h>

#include <cmath>

namespace needleturn {

using scenarios::Dimension;
using scenarios::format_quantity;

std::string strainer_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict) {
    const auto units = scenario.units;
    const auto pressure = [&](double value) { return format_quantity(value, Dimension::pressure, units); };
    std::string events;
    for (const auto& event : verdict) {
        if (!event.strainer)
            continue;
        const auto& seen = *event.strainer;
        events += fmt::format("    {} (at {:.4g} s): {:.3g} % of its meshes open, takes {} at {}",
                              event.event.what, event.event.at, 100 * seen.open, pressure(seen.drop),
                              format_quantity(seen.flow, Dimension::flow, units));
        if (seen.open < 1)
            events += fmt::format(" (clean {})", pressure(seen.clean_drop));
        events += fmt::format(", leaves {}\n", pressure(seen.behind));
    }
    if (events.empty())
        return {};
    return fmt::format("  strainer ahead of the {}, as each event ends:\n{}",
                       scenarios::in_two_steps(scenario.stages) ? "first step" : "station", events);
}

} // namespace needleturn
