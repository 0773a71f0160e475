/// needleturn export: signals and tables of a file as CSV, for a spreadsheet, in units that the user chooses.
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

/// Add the subcommand; see add_run.
void add_export(Command program, std::function<int()>& action);

} // namespace needleturn
