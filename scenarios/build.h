/// From a scenario to the model that answers it.
#pragma once

#include "models/station.h"
#include "scenarios/scenario.h"
#include "sim/contract/schedule.h"

#include <vector>

namespace needleturn::scenarios {

/// The parts of the station and what drives it.
struct Installation {
    models::StationParts parts;
    std::vector<Schedule> drives; ///< in the order of models::Station::drives
};

/// Parts, water properties and schedules of a scenario as read by read_scenario.
///
/// Choices made here: capacities are corrected for the density of the water; a wall's restraint factor is that
/// of a wall of any thickness; a pipe that names no cells gets as many as the fastest change and the wave speed ask for
/// (8 to 64, fewer for a pipe that is short against both); unsteady friction is of the flow at the start; an air pocket
/// or a vessel stands behind an opening of a quarter of the pipe's area.
Installation build(const Scenario& scenario);

} // namespace needleturn::scenarios
