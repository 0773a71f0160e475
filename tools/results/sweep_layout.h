/// The file of needleturn sweep.
#pragma once

#include "sim/cases_file.h"
#include "tools/studies/sweep_case.h"

namespace needleturn {

/// What the file of the sweep's cases looks like.
sim::CasesLayout layout_of(const Sweep& sweep);

} // namespace needleturn
