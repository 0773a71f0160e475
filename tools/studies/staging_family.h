/// A proposed station, as it is set, over the stations that the ranges of its hardware allow.
#pragma once

#include "tools/studies/family_limit.h"
#include "tools/studies/staging.h"

#include <cstddef>
#include <functional>

namespace needleturn {

/// Counts of the stations drawn. A count is of steady states: what a knock or the ramp does was followed for the hardware as stated
/// alone.
struct StagingFamily {
    FamilyLimit limit;          ///< over the proposal's flows
    std::size_t regulating = 0; ///< as Proposal::regulates(), at full flow
    std::size_t steady = 0;     ///< small motions of stems without friction die away at every flow
    std::size_t both = 0;
};

/// `question` of this proposal: its text is that of to_run(proposal), every stage set to what its gauge is to show, flowing or at
/// rest.
FamilyQuestion family_of(const Proposal& proposal, FamilyQuestion question);

/// `question` is family_of(proposal). Threads, `go_on` and what is thrown: as family_limit.
StagingFamily staging_family(const Proposal& proposal, const FamilyQuestion& question, unsigned threads,
                             const std::function<bool()>& go_on);

} // namespace needleturn
