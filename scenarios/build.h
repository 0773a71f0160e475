/// From a scenario to the model that answers it.
#pragma once

#include "models/station.h"
#include "scenarios/pipe_grid.h"
#include "scenarios/scenario.h"
#include "sim/contract/schedule.h"

#include <cstddef>
#include <string>
#include <vector>

namespace needleturn::scenarios {

/// Air that is put into a cover, or taken from it, at an instant.
struct AirChange {
    double at = 0;         ///< s
    std::size_t stage = 0; ///< index into StationParts::stages
    double volume = 0;     ///< m3, of all the air that is in the cover then, at its pressure
};

/// The parts of the station and what is done with it.
struct Installation {
    models::StationParts parts;
    std::vector<Schedule> drives; ///< in the order of models::Station::drives, to which they belong by name
    std::vector<TrappedAir> air;  ///< in the covers at the start, in the order of parts.stages
    std::vector<AirChange> air_changes; ///< by time
    std::vector<PipeGrid> grids;        ///< in the order of parts.pipes
    double fastest_change = 0; ///< s, of pressure or flow in the scenario; infinity if nothing changes
};

/// Parts, water properties and schedules of a scenario as read by read_scenario.
///
/// Choices made here: capacities are corrected for the density of the water; a wall's restraint factor is that
/// of a wall of any thickness; a pipe that names no cells gets as many as the fastest change and the wave speed ask for
/// (cells_for) times `refinement`, unless it is lumped; unsteady friction is of the flow at the start; an air pocket
/// or a vessel stands behind an opening of a quarter of the pipe's area.
Installation build(const Scenario& scenario, std::size_t refinement = 1);

} // namespace needleturn::scenarios
