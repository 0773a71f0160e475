/// needleturn sensitivity: which of the varied keys moves the verdict most.
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

/// Adds the subcommand; see add_run.
void add_sensitivity(Command program, std::function<int()>& action);

} // namespace needleturn
