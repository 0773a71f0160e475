/// needleturn export: signals and tables of a file as CSV, for a spreadsheet, in units that the user chooses.
#pragma once

#include <CLI/App.hpp>

#include <functional>

namespace needleturn {

/// Add the subcommand; see add_run.
void add_export(CLI::App& program, std::function<int()>& action);

} // namespace needleturn
