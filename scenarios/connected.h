/// Which stages are connected at a time, and what the station therefore holds at rest.
///
/// A stage with a shut cock, on either side, delivers nothing: its setting holds up no pressure. One whose outlet cock is shut is
/// isolated besides: all of it that reaches the outlet does so behind its seat (models/parts/cock.h). One whose inlet cock alone
/// is shut still acts on the outlet, by what its stem and diaphragm displace.
#pragma once

#include "scenarios/scenario.h"

#include <algorithm>
#include <vector>

namespace needleturn::scenarios {

/// Nothing of the stage, as it begins, reaches the outlet.
inline bool is_isolated(const Stage& stage) { return stage.outlet_cock == 0.0; }

/// The stages with their cocks as they stand at a time, s; a cock that is being turned is neither open nor shut, but half open.
std::vector<Stage> stages_at(const Scenario& scenario, double time);

/// Pa: the highest set pressure of the stages of one step that deliver, as they begin; of all of them where none does. 0: there
/// are none.
double static_pressure(const std::vector<Stage>& stages, bool first_step = false);

/// The lowest that its pilot is ever set to as it begins, Pa: by night, where it has a night setting.
inline double lowest_setting(const Stage& stage) {
    return stage.night_setting ? stage.set_pressure - stage.night_setting->lower_by : stage.set_pressure;
}
/// The stages as they are set with nothing drawn.
std::vector<Stage> by_night(std::vector<Stage> stages);

/// Are there stages of a first step among them?
inline bool in_two_steps(const std::vector<Stage>& stages) {
    return std::ranges::any_of(stages, &Stage::first_step);
}

/// Pa that comes to a stage at the start, static, heights left out: the pressure of the supply; behind a first step what that holds,
/// where it is less.
double inlet_pressure(const Scenario& scenario, const Stage& stage);

} // namespace needleturn::scenarios
