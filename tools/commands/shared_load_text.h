/// What a run shows of main valves that share the flow.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/verdict.h"

#include <string>
#include <vector>

namespace needleturn {

/// A line for each event: what each stage carries as the event ends. Empty: fewer than two main valves stand side by side.
std::string shared_load_text(const scenarios::Scenario& scenario, const std::vector<EventVerdict>& verdict);

} // namespace needleturn
