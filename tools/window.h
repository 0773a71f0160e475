/// needleturn window: which needle turns are safe.
#pragma once

#include <CLI/App.hpp>

#include <functional>

namespace needleturn {

/// Adds the subcommand; see add_run.
void add_window(CLI::App& program, std::function<int()>& action);

} // namespace needleturn
