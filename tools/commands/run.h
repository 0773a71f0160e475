/// needleturn run: integrate scenarios, write their files, print their verdicts.
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

/// Adds the subcommand. When it was given, `action` is what to do once the command line is parsed; it returns an exit
/// code and may throw std::exception for bad input.
void add_run(Command program, std::function<int()>& action);

} // namespace needleturn
