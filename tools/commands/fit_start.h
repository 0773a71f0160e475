/// When a scenario begins in a trace.
#pragma once

#include "scenarios/trace.h"

#include <string>

namespace needleturn {

/// The trace's time, s, at which the scenario's is 0, as --start says it: "12.5 s", a date where the trace has dates, or nothing: 0.
/// Throws scenarios::ScenarioError.
double start_in_trace(const std::string& start, const scenarios::Trace& trace);

} // namespace needleturn
