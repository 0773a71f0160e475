/// What makes a scenario doubtful, as every command that reads one prints it.
#pragma once

#include "scenarios/scenario.h"

#include <string>

namespace needleturn {

/// One line each: "WARNING: the supply brings 20.00 bar to main, which is rated for 16.00 bar"; empty: nothing is doubtful.
std::string warnings_text(const scenarios::Scenario& scenario);

/// The same of warnings that are known, a line each (sim::RunRecord::warnings).
std::string warnings_text(const std::string& warnings);

} // namespace needleturn
