/// needleturn sweep and join: run every case of a study, whatever interrupts it, into one file.
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

/// Add the subcommands; see add_run.
void add_sweep(Command program, std::function<int()>& action);
void add_join(Command program, std::function<int()>& action);

} // namespace needleturn
