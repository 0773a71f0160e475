/// needleturn sheet: the page that goes to the valve. What to do, what to expect, room to write down what was found and
/// left, cautions, signatures.
#pragma once

#include "tools/commands/options.h"
#include "tools/studies/rehearsal.h"

#include <functional>
#include <string>

namespace needleturn {

/// One page of HTML that stands alone: one or two sheets of A4 or Letter, black on white, readable on a phone.
std::string sheet_page(const scenarios::Scenario& scenario, const Lesson& lesson);

/// The same as plain text of at most 78 columns.
std::string sheet_text(const scenarios::Scenario& scenario, const Lesson& lesson);

void add_sheet(Command program, std::function<int()>& action);

} // namespace needleturn
