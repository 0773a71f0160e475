/// `run --uncertain`: one scenario with the valves that the ranges of its hardware allow.
#pragma once

#include "scenarios/read_scenario.h"
#include "tools/studies/simulate.h"
#include "tools/studies/valve_family.h"

#include <string>

namespace needleturn {

/// What is printed of a family: counts with their sampling error, what limits are held against, the inputs that matter most, and
/// beside it the valve with the values as stated. Every sentence is made from the figures. Lines, with an end each.
std::string family_text(const FamilyQuestion& question, const scenarios::Scenario& stated,
                        const FamilyVerdict& family, const Outcome& as_stated);

/// Runs the family into the file of cases at `output` ("": <scenario>-uncertain.h5 here), or goes on with it, and prints its
/// verdict; an exit code. Throws for what cannot be started. `threads` 0: one per processor.
int run_uncertain(const FamilyQuestion& question, const std::string& output, unsigned threads);

} // namespace needleturn
