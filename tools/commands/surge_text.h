/// What the surge of each event is told as.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/surge_analysis.h"

#include <string>
#include <vector>

namespace needleturn {

/// A few lines for each event that says something of surge, cavities, cavitation or velocity.
std::string surge_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict,
                       const std::vector<SurgeVerdict>& surges);

} // namespace needleturn
