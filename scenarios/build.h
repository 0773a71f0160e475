/// From a scenario to the model that answers it.
#pragma once

#include "models/station.h"
#include "scenarios/scenario.h"
#include "sim/contract/schedule.h"

#include <cstddef>
#include <string>
#include <vector>

namespace needleturn::scenarios {

/// How finely a pipe is divided, and why. Hunting and its overtones up to `resolved_frequency` are to lose less than 1e-3
/// of damping ratio to the scheme, and the front of the fastest change is to spread over ten cells.
struct PipeGrid {
    std::string pipe;
    std::size_t cells = 0;
    double transit = 0; ///< s, L/a
    double wanted =
        0; ///< cells by these two rules; more than the model gives by itself are not always granted
    bool as_stated = false; ///< the scenario says how many
    bool resolved = false;  ///< waves travel in it; else it is lumped
    /// Hz, up to which it keeps the rule.
    double good_to() const;
};
inline constexpr double resolved_frequency = 10; // Hz

/// The parts of the station and what drives it.
struct Installation {
    models::StationParts parts;
    std::vector<Schedule> drives; ///< in the order of models::Station::drives
    std::vector<PipeGrid> grids;  ///< in the order of parts.pipes
    double fastest_change = 0;    ///< s, of pressure or flow in the scenario; infinity if nothing changes
};

/// Parts, water properties and schedules of a scenario as read by read_scenario.
///
/// Choices made here: capacities are corrected for the density of the water; a wall's restraint factor is that
/// of a wall of any thickness; a pipe that names no cells gets as many as the fastest change and the wave speed ask for
/// (8 to 64, fewer for a pipe that is short against both); unsteady friction is of the flow at the start; an air pocket
/// or a vessel stands behind an opening of a quarter of the pipe's area.
Installation build(const Scenario& scenario);

} // namespace needleturn::scenarios
