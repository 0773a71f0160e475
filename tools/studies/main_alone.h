/// A main valve with no other stage beside it, bled and open: what its gauges read before the others are brought in.
#pragma once

#include "scenarios/scenario.h"

#include <cstddef>

namespace needleturn {

/// Pa that the outlet reads with main valve `i` alone, at its wanted setting, while `flow` (m3/s) is wanted.
double flowing_pressure(const scenarios::Scenario& scenario, std::size_t i, double flow);

/// m3/s that it delivers alone then, less than is wanted where its setting is lower than the outlets want.
double delivered_flow(const scenarios::Scenario& scenario, std::size_t i, double flow);

/// Above this flow, m3/s, main valve `i` alone is steady whatever its friction; infinite: at no flow that the station passes.
double minimum_flow(const scenarios::Scenario& scenario, std::size_t i);

/// Opening of the inlet cock of stage `i` that lets the pressure behind it rise to `above`, Pa, over what the water standing on it
/// makes, while `flow` (m3/s) is wanted of the outlets, all of them the highest: the valve behind it stands open.
double cracked_cock(const scenarios::Scenario& scenario, std::size_t i, double flow, double above);

} // namespace needleturn
