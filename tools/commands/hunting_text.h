/// What an event does to the outlet pressure, in a few words: steady, hunts, rests only until something disturbs it.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/verdict.h"

#include <string>

namespace needleturn {

/// "steady", "rings down from 0.31 bar peak to peak at 3.1 Hz", "HUNTS 1.85 bar peak to peak at 2.8 Hz", "at rest, but does not
/// stay: ..."; hunting within a stated limit in small letters.
std::string hunting_text(const EventVerdict& event, const scenarios::Scenario& scenario);

/// "the knock did not break loose the stem of main: what a harder one does is not known"; empty where it moved every stem.
std::string stuck_text(const Stability& stability);

/// "a draw of 10 % more for 1 s"; empty where the scenario asks for none.
std::string knock_text(const scenarios::Scenario& scenario);

} // namespace needleturn
