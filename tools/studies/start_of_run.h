/// The steady state that a run starts from.
#pragma once

#include "models/station.h"
#include "scenarios/scenario.h"
#include "tools/studies/simulate.h"

#include <Eigen/Core>

namespace needleturn {

/// The steady state at t = 0, from the station's own guess; where it is not found from there, from outlets that are less or
/// more open, little by little. Throws sim::NoEquilibrium, which says in plain words where the pressures of the start do not
/// reach an outlet.
Eigen::VectorXd found_at_start(const scenarios::Scenario& scenario, const models::Station& station,
                               const StationSystem& system);

} // namespace needleturn
