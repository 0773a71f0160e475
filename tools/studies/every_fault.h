/// Every fault of a station, simulated on all processors.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/fault_signatures.h"

#include <functional>
#include <vector>

namespace needleturn {

/// The station healthy (first) and with each fault that it can have. Throws as fault_signature. `one_more` is called after each, from
/// several threads, one at a time.
std::vector<Signature> fault_signatures(const scenarios::Scenario& scenario,
                                        const std::function<void()>& one_more = {});

} // namespace needleturn
