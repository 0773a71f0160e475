/// Motions that are shut in with a stage whose cocks are both shut: they reach nobody, and say nothing of the station.
#pragma once

#include "scenarios/scenario.h"
#include "sim/instant.h"
#include "sim/modes.h"

#include <Eigen/Core>

#include <vector>

namespace needleturn {

/// Takes those that would be the worst mode out of `modes`, of the motion about (t, y) of `instant`; `stages` with their cocks as
/// they stand. At least one mode stays.
void leave_out_shut_in(std::vector<sim::Mode>& modes, const std::vector<scenarios::Stage>& stages,
                       const sim::Instant& instant, const Eigen::VectorXd& y);

} // namespace needleturn
