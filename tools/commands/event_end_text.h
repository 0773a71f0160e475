/// What a run tells of its station as each event ends, besides its pressures: what the strainer takes, which pilot decides, who carries
/// the flow.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/verdict.h"

#include <string>
#include <vector>

namespace needleturn {

/// A heading for each of these that the station has, and a line for each event, or for each valve as an event ends.
std::string event_ends_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict);

/// The same as sentences, a text for each event; empty texts: the station has none of these.
std::vector<std::string> event_ends(const scenarios::Scenario& scenario,
                                    const std::vector<EventVerdict>& verdict);

} // namespace needleturn
