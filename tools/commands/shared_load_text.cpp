#include "tools/commands/shared_load_text.h"

#include "scenarios/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace needleturn {

std::string shared_load_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict) {
    std::string events;
    for (const auto& event : verdict) {
        double all = 0;
        for (const auto& load : event.loads)
            all += load.flow;
        if (event.loads.empty() || event.flow < nothing_flows)
            continue;
        std::vector<std::string> carried;
        for (const auto& load : event.loads)
            carried.push_back(fmt::format("{} {:.0f} %", load.name,
                                          std::max(0.0, std::round(100 * load.flow / all)) + 0.0)); // no -0
        events +=
            fmt::format("    {} (at {:.4g} s): of {} {}{}\n", event.event.what, event.event.at,
                        scenarios::format_quantity(event.flow, scenarios::Dimension::flow, scenario.units),
                        fmt::join(carried, ", "),
                        event.hunts_in_window()       ? ", in the mean while it hunts"
                        : still_shifting(event.loads) ? ", and still shifting"
                                                      : "");
    }
    return events.empty() ? events : "  who carries the flow, as each event ends:\n" + events;
}

} // namespace needleturn
