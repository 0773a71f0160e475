/// From the pressure that a gauge shows while water runs to the static set pressure that the model wants.
#pragma once

#include "scenarios/hardware.h"

namespace needleturn::scenarios {

/// The static set pressure, Pa, with which a pilot-operated valve begins to open at the outlet pressure `flowing` (Pa),
/// supplied at `inlet_pressure` (Pa).
///
/// Where the valve is about to open, the cover has the pressure of the stem's balance (models/main_valve.h), the pilot
/// passes what the fixed restriction then brings, and its lift is the fall-off on its spring (models/pilot.h). Where the
/// cover cannot be drained so far, the pilot stands fully open.
double static_setting(const PilotOperatedHardware& hardware, double inlet_pressure, double flowing);

} // namespace needleturn::scenarios
