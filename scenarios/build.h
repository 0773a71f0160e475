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
/// Choices made here: capacities are corrected for the density of the water; pipe walls are held along their axis by
/// expansion joints (Korteweg's factor 1); a pipe that names no cells gets one per 10 m, 32 at most; an air pocket
/// stands behind an opening of a quarter of the pipe's area.
Installation build(const Scenario& scenario);

} // namespace needleturn::scenarios
