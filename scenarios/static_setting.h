/// From what a hand or a gauge says to the static set pressure that the model wants.
#pragma once

#include "scenarios/scenario.h"

#include <optional>

namespace needleturn::scenarios {

/// The static set pressure, Pa, with which a pilot-operated valve begins to open at the outlet pressure `flowing` (Pa),
/// supplied at `inlet_pressure` (Pa), with the sustaining pilot in its way, if any, set to `sustaining_pressure` (Pa).
///
/// Where the valve is about to open, the cover has the pressure of the stem's balance (models/main_valve.h), the pilot
/// passes what the fixed restriction then brings, and its lift is the fall-off on its spring (models/pilot.h). Where the
/// cover cannot be drained so far, the pilot stands fully open.
double static_setting(const PilotOperatedHardware& hardware, double inlet_pressure, double flowing,
                      std::optional<double> sustaining_pressure = std::nullopt);

/// The static set pressure, Pa, of a spring whose force on the diaphragm alone is that of the pressure `spring` (Pa): turns of the
/// screw times pressure_per_turn. Where the seat is not balanced the inlet pressure at which the screw was set, `set_at` (Pa),
/// holds the valve shut besides, as in (48) of models/parts/unbalanced_seat.h with nothing moving:
///
///     A p_s = (A - A_o) p_set + A_o p_ref
///
/// Not above 0 where the inlet pressure alone holds it shut.
double set_by_spring(const Stage& stage, double spring, double set_at);
/// The spring of a set pressure: the other way round.
double spring_of(const Stage& stage, double set_pressure, double set_at);

/// The inlet pressure at which the model takes a screw to have been set (Pa), given the supply's at the start and the set pressure
/// that this made; of a screw that is known by its spring alone.
double set_at(double inlet_pressure, double set_pressure);
double set_by_spring_at_start(const Stage& stage, double spring, double inlet_pressure);

} // namespace needleturn::scenarios
