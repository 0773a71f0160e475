/// What the parts of one step cost.
#pragma once

#include "tests/bench/station_problem.h"

#include <string>

namespace needleturn::bench {

/// Markdown table, in nanoseconds: right-hand side, Jacobian, factorisation, solution, whole attempt.
std::string micro_table(StationProblem& problem);

} // namespace needleturn::bench
