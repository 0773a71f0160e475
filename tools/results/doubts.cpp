#include "tools/results/doubts.h"

#include "scenarios/plausibility.h"
#include "scenarios/units.h"
#include "tools/studies/delivery.h"

#include <fmt/format.h>

#include <algorithm>

namespace needleturn {

std::vector<std::string> warnings_of(const scenarios::Scenario& scenario) {
    auto warnings = scenarios::static_warnings(scenario);
    const auto flow = [&](double value) {
        return scenarios::format_quantity(value, scenarios::Dimension::flow, scenario.units);
    };
    std::vector<std::string> told;
    for (const auto& delivery : deliveries(scenario)) {
        if (!delivery.far_short() || std::ranges::find(told, delivery.demand) != told.end())
            continue;
        told.push_back(delivery.demand);
        warnings.push_back(
            fmt::format("{} wants {} and gets {} at the most: the supply, the station or the pipes "
                        "pass no more",
                        delivery.demand == "demand" ? "the demand" : delivery.demand, flow(delivery.wanted),
                        flow(std::max(delivery.delivered, 0.0))));
    }
    return warnings;
}

} // namespace needleturn
