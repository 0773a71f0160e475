/// needleturn fit SCENARIO TRACE.csv
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

void add_fit(Command program, std::function<int()>& action);

} // namespace needleturn
