/// Findings in words, as a terminal and a sheet have them. tools/page/finding.js says the same on a page.
#pragma once

#include "scenarios/units.h"
#include "tools/studies/finding.h"

#include <string>
#include <vector>

namespace needleturn {

/// A figure and the limit that it is held against, with as many digits as it takes to tell them apart: "85.02 psi", "85.00 psi".
struct ShownApart {
    std::string value, bound;
};
ShownApart shown_apart(double value, double bound, scenarios::Dimension dimension,
                       scenarios::UnitSystem units);

/// "hunts 1.85 bar, limit 0.20 bar"; "undecided, hunting: no steady state was found".
std::string finding_text(const Finding& finding, scenarios::UnitSystem units);

/// "BREAKS hunts 1.85 bar, limit 0.20 bar"; "is UNDECIDED, hunting: no steady state was found": after a subject.
std::string finding_predicate(const Finding& finding, scenarios::UnitSystem units);

/// "0.34 s", "170 s", "more than a day": in which small motions double or halve, s, > 0.
std::string doubling_text(double seconds);

/// "2.3 Hz", "2900 Hz": two digits, and no power of ten.
std::string frequency_text(double hertz);

/// Of growth that doubles in `seconds` and came to nothing that shows: ", too slowly to see how far they grow", where it is slow.
std::string unseen_growth_text(double seconds);

/// All of them: those that are not kept first.
std::vector<std::string> finding_texts(const std::vector<Finding>& findings, scenarios::UnitSystem units);

} // namespace needleturn
