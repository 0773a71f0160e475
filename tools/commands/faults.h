/// needleturn faults: what each fault looks like on the gauges, and which fit what was seen.
#pragma once

#include "tools/commands/options.h"
#include "tools/studies/fault_signatures.h"

#include <functional>
#include <span>
#include <string>

namespace needleturn {

/// The table of signatures, one line each.
std::string signatures_text(const scenarios::Scenario& scenario, std::span<const Signature> signatures);

/// The faults that fit best, those that cannot be told apart, and what reading would separate them.
std::string ranking_text(const scenarios::Scenario& scenario, std::span<const Signature> signatures,
                         const Sighting& sighting);

void add_faults(Command program, std::function<int()>& action);

} // namespace needleturn
