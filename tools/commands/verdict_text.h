/// The verdict as a field engineer reads it in ten seconds: one line per event, then pass or fail and why.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/simulate.h"

#include <string>

namespace needleturn {

/// Several lines, ending in a newline, in the scenario's units; lines are at most 120 columns where the texts allow.
std::string verdict_text(const scenarios::Scenario& scenario, const Outcome& outcome);

/// "4.80 bar static"; of a stage with a night setting by day and by night, and at which flows through it.
std::string set_pressure_text(const scenarios::Stage& stage, scenarios::UnitSystem units);

/// How many cells each pipe has, and why: one line without its end.
std::string cells_text(const Outcome& outcome);

/// What every print-out about pressurised water ends with.
std::string caution_text();

} // namespace needleturn
