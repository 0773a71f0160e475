/// What needleturn fit prints.
#pragma once

#include "scenarios/scenario.h"
#include "scenarios/units.h"
#include "tools/studies/fit.h"
#include "tools/studies/fit_family.h"

#include <string>

namespace needleturn {

/// The values before and after, what cannot be told apart, the residuals, and what to think of it.
std::string fit_text(const Fitted& fitted, scenarios::UnitSystem units);

/// How many of the valves before and after keep every limit; lines after an empty one.
std::string families_text(const FitFamilyQuestion& question, const FitFamilies& families,
                          const scenarios::Scenario& stated, bool explained);

} // namespace needleturn
