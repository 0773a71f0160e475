/// The option --set, which every subcommand that reads a scenario has.
#pragma once

#include "scenarios/read_scenario.h"

#include <vector>

namespace CLI {
class App;
}

namespace needleturn {

/// Gives `command` the option; what is asked for arrives in `overrides`, which must outlive the parsing.
void add_set(CLI::App& command, std::vector<scenarios::Override>& overrides);

} // namespace needleturn
