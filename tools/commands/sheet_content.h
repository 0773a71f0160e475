/// What the sheet says: cautions, station, settings and readings, steps.
#pragma once

#include "scenarios/scenario.h"
#include "tools/page/sheet_page.h"
#include "tools/studies/rehearsal.h"

namespace needleturn {

/// `lesson` is what rehearse_all makes of `scenario`.
SheetContent sheet_content(const scenarios::Scenario& scenario, const Lesson& lesson);

} // namespace needleturn
