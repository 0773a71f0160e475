/// needleturn sensitivity: which of the varied keys moves the verdict most.
#pragma once

#include <CLI/App.hpp>

#include <functional>

namespace needleturn {

/// Adds the subcommand; see add_run.
void add_sensitivity(CLI::App& program, std::function<int()>& action);

} // namespace needleturn
