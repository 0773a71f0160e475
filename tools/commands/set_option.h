/// The option --set, which every subcommand that reads a scenario has.
#pragma once

#include "scenarios/read_scenario.h"
#include "tools/commands/options.h"

#include <vector>

namespace needleturn {

/// Gives `command` the option; what is asked for arrives in `overrides`, which must outlive the parsing.
void add_set(Command command, std::vector<scenarios::Override>& overrides);

} // namespace needleturn
