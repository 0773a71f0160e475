/// needleturn sweep and join: run every case of a study, whatever interrupts it, into one file.
#pragma once

#include <CLI/App.hpp>

#include <functional>

namespace needleturn {

/// Add the subcommands; see add_run.
void add_sweep(CLI::App& program, std::function<int()>& action);
void add_join(CLI::App& program, std::function<int()>& action);

} // namespace needleturn
