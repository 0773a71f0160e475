/// `stage --uncertain`: a proposal, as it is set, over the stations that the ranges of its hardware allow.
#pragma once

#include "tools/studies/staging_family.h"

#include <string>

namespace needleturn {

/// What was found, several lines, the last one a conclusion.
std::string staging_family_text(const Proposal& proposal, const FamilyQuestion& question,
                                const StagingFamily& family);

/// Searches and prints; an exit code. `question` is family_of(proposal).
int run_stage_uncertain(const Proposal& proposal, const FamilyQuestion& question);

} // namespace needleturn
