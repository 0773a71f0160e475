/// `window --uncertain`: turns over the valves that the ranges of the hardware allow.
#pragma once

#include "tools/studies/family_window.h"

#include <string>

namespace needleturn {

/// What was found, several lines: the valves kept at each setting, the best setting, and its share with other valves.
/// `member`: what the family is of, "valve" or "station".
std::string family_window_text(const FamilyWindowQuestion& question, const FamilyWindow& window,
                               const std::string& member);

/// Searches and prints; an exit code. Throws for what cannot be started.
int run_window_uncertain(FamilyWindowQuestion question);

} // namespace needleturn
