/// What comes through a station whose largest valve stands wide open, and what its relief valves make of it. A first step ahead of
/// the station holds what it is set to.
#pragma once

#include "scenarios/scenario.h"

#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// A steady state: the supply at its highest, nothing drawn behind the station.
struct StuckOpen {
    std::string stage;  ///< the one of the largest capacity
    bool found = false; ///< else no steady state was found, and nothing is known of what follows
    double flow = 0;    ///< m3/s that comes, all of it through relief valves
    struct Relief {
        double pressure = 0; ///< Pa, where it stands
        double flow = 0;     ///< m3/s
        double lift = 0;     ///< m
    };
    std::vector<Relief> reliefs; ///< in the order of scenarios::visit_reliefs
};

/// Nothing: there is no relief valve.
std::optional<StuckOpen> stuck_open(scenarios::Scenario scenario);

} // namespace needleturn
