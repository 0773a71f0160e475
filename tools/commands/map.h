/// needleturn map: over which flows a station is steady, and who carries what.
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

/// Adds the subcommand; see add_run.
void add_map(Command program, std::function<int()>& action);

} // namespace needleturn
