/// needleturn window: which needle turns are safe.
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

/// Attribute `kind` of its files.
inline constexpr const char* window_kind = "turn window";

/// Adds the subcommand; see add_run.
void add_window(Command program, std::function<int()>& action);

} // namespace needleturn
