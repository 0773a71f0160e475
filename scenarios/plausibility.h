/// Scenarios whose keys are each within their range and that are nonsense together: what the reader refuses, and what is
/// worth a warning. Statics only; what flow the line delivers is tools/studies/delivery.h.
///
/// Changes count: a supply that rises later, a screw that is turned in later. A supply that fails is what runs are made for.
#pragma once

#include "scenarios/scenario.h"

#include <string>
#include <vector>

namespace needleturn::scenarios {

/// "5.00 bar, the highest setting of the station, does not lift water 60.0 m to rooms, only 51.0 m": where even the highest
/// pressure of the run leaves a valve or an open outlet dry. Empty: nowhere. The reader refuses such a scenario.
std::string out_of_reach(const Scenario& scenario);

/// The same of the pressures at the start, which may rise later, or the cocks that are shut while water is drawn: why there is no
/// steady state to start from.
std::string out_of_reach_at_start(const Scenario& scenario);

/// Pa, static, ahead of a stage, with the supply at its highest and a first step, if there is one, set at its highest.
double highest_inlet_pressure(const Scenario& scenario, const Stage& stage);

/// Pa at the valve's outlet that lift water to each outlet behind it, in the order of visit_outlets; below 0 for one that lies
/// lower than the valve.
std::vector<double> outlet_heads(const Scenario& scenario);

/// Pa, of a common gauge: what makes less than this reads zero.
inline constexpr double gauge_division = 5e3;

/// Pa at the valve's outlet that the water standing between it and the highest outlet makes, with that one open and the lower ones
/// shut; 0 where all lie below the valve.
double standing_head(const Scenario& scenario);

/// One plain line each, in the scenario's units: a supply above a pressure rating, a set pressure above the supply or too
/// near it. Empty: nothing is doubtful.
std::vector<std::string> static_warnings(const Scenario& scenario);

} // namespace needleturn::scenarios
