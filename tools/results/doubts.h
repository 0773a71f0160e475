/// What makes the question of a scenario doubtful: files tell it, and every command that reads a scenario prints it.
#pragma once

#include "scenarios/scenario.h"

#include <string>
#include <vector>

namespace needleturn {

/// scenarios::static_warnings, and one line for each demand that falls far short. Empty: nothing is doubtful.
std::vector<std::string> warnings_of(const scenarios::Scenario& scenario);

} // namespace needleturn
