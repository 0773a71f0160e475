/// needleturn sheet: the page that goes to the valve. What to do, what to expect, room to write down what was found and
/// left, cautions, signatures.
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

void add_sheet(Command program, std::function<int()>& action);

} // namespace needleturn
