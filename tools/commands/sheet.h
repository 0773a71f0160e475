/// needleturn sheet: the page that goes to the valve. What to do, what to expect, room to write down what was found and
/// left, cautions, signatures.
#pragma once

#include "scenarios/scenario.h"
#include "tools/commands/options.h"
#include "tools/studies/rehearsal.h"

#include <functional>

namespace needleturn {

/// Keeps the sheet of a scenario that has just been rehearsed (kept_sheet.h), so that `sheet` need not rehearse it again.
void keep_sheet_of(const scenarios::Scenario& scenario, const Lesson& lesson);

void add_sheet(Command program, std::function<int()>& action);

} // namespace needleturn
