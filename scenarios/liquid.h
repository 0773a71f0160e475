/// What flows in a scenario: water at its temperature, or the liquid that it states.
#pragma once

#include "models/laws/water.h"
#include "scenarios/scenario.h"

#include <optional>

namespace needleturn::scenarios {

/// At `pressure_abs`, Pa absolute, within models::water_at's range; a stated liquid has the same properties at any.
models::Water liquid_at(const Scenario& scenario, double pressure_abs = 101325.0);

/// Undissolved gas, part of the volume at atmospheric pressure; none: no more than the usual trace.
std::optional<double> free_gas_of(const Scenario& scenario);

} // namespace needleturn::scenarios
