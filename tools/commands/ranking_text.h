/// The inputs of a family that matter most, in words.
#pragma once

#include "tools/studies/valve_family.h"

#include <string>

namespace needleturn {

/// Up to three inputs that move `what` by more than chance explains, or why none is named; lines after an empty one.
std::string ranking_text(const std::string& what, const InputRanking& ranking);

} // namespace needleturn
