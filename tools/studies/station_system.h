/// A station with its drives: the system that every study steps.
#pragma once

#include "models/station.h"
#include "sim/system.h"

// Right-hand side and Jacobian of the station take a compiler four seconds; station_system.cpp compiles them for all.
extern template class needleturn::sim::Assembly<needleturn::models::Station>;

namespace needleturn {

using StationSystem = sim::System<models::Station>;

} // namespace needleturn
