/// What a fit found, in words and as a scenario.
#pragma once

#include "scenarios/scenario.h"
#include "scenarios/units.h"
#include "tools/studies/fit.h"
#include "tools/studies/fit_family.h"

#include <string>
#include <vector>

namespace needleturn {

/// The values before and after, what cannot be told apart, the residuals, and what to think of it.
std::string fit_text(const Fitted& fitted, scenarios::UnitSystem units);

/// How many of the valves before and after keep every limit; lines after an empty one.
std::string families_text(const FitFamilyQuestion& question, const FitFamilies& families,
                          const scenarios::Scenario& stated, bool explained);

/// What puts the values found into the scenario: of hardware with what is left of its range, a factor either way.
std::vector<scenarios::Override> found_overrides(const Fitted& fitted);

/// The controls that the trace told something of, as `found`, which has the values found, has them.
scenarios::SiteRecord found_record(const scenarios::Scenario& found, const Fitted& fitted, std::string date,
                                   std::string remark);

/// The values found and their ranges as comments of a scenario file, a line each.
std::string fit_comments(const Fitted& fitted, const std::string& scenario, const std::string& trace);

} // namespace needleturn
