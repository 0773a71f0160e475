/// Which stages are connected at a time, and what the station therefore holds at rest.
///
/// A stage with a shut cock, on either side, delivers nothing: its setting holds up no pressure. One whose outlet cock is shut is
/// isolated besides: all of it that reaches the outlet does so behind its seat (models/parts/cock.h). One whose inlet cock alone
/// is shut still acts on the outlet, by what its stem and diaphragm displace.
#pragma once

#include "scenarios/scenario.h"

#include <vector>

namespace needleturn::scenarios {

/// Nothing of the stage, as it begins, reaches the outlet.
inline bool is_isolated(const Stage& stage) { return stage.outlet_cock == 0.0; }

/// The stages with their cocks as they stand at a time, s; a cock that is being turned is neither open nor shut, but half open.
std::vector<Stage> stages_at(const Scenario& scenario, double time);

/// Pa: the highest set pressure of the stages that deliver, as they begin; of all of them where none does.
double static_pressure(const std::vector<Stage>& stages);

} // namespace needleturn::scenarios
