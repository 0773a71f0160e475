/// needleturn window: which needle turns are safe.
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

/// Adds the subcommand; see add_run.
void add_window(Command program, std::function<int()>& action);

} // namespace needleturn
