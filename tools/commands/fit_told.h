/// What a fit found, in sentences: for the command and for the rig's page.
#pragma once

#include "scenarios/units.h"
#include "tools/studies/fit.h"

#include <string>

namespace needleturn {

/// In the unit of the system, with three digits and without the unit.
std::string three_digits(double si, scenarios::Dimension dimension, scenarios::UnitSystem units);
std::string range_text(double low, double high, scenarios::Dimension dimension, scenarios::UnitSystem units);

/// Which values the trace cannot tell apart; empty: there are none. Lines after an empty one.
std::string pairs_text(const Fitted& fitted);

/// What is left between trace and model, gauge by gauge, and how sure the search is. Lines after an empty one.
std::string residuals_text(const Fitted& fitted, scenarios::UnitSystem units);

/// What the model does not explain, and whether the trace tells anything, a line each; empty: all is well.
std::string judgement_text(const Fitted& fitted, scenarios::UnitSystem units);

/// What to mind before anything found is tried on the valve.
std::string fit_caution_text();

} // namespace needleturn
