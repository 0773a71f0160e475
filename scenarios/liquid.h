/// What flows in a scenario: water at its temperature, or the liquid that it states.
#pragma once

#include "models/laws/water.h"
#include "scenarios/scenario.h"

namespace needleturn::scenarios {

/// At `pressure_abs`, Pa absolute, within models::water_at's range; a stated liquid has the same properties at any.
models::Water liquid_at(const Scenario& scenario, double pressure_abs = 101325.0);

} // namespace needleturn::scenarios
