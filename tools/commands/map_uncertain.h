/// `map --uncertain`: the minimum continuous flow over the valves that the ranges of the hardware allow.
#pragma once

#include "tools/studies/family_limit.h"

#include <string>

namespace needleturn {

/// What was found, several lines.
std::string family_limit_text(const FamilyQuestion& question, const scenarios::Scenario& stated,
                              const FamilyLimit& limit);

/// Searches and prints; an exit code. Throws for what cannot be started.
int run_map_uncertain(const FamilyQuestion& question, const scenarios::Scenario& stated,
                      const FlowSweep& sweep);

} // namespace needleturn
