/// Faults, readings and signs in words, and what a fitter says of them after --seen.
#pragma once

#include "tools/studies/fault_signatures.h"

#include <span>
#include <string>
#include <vector>

namespace needleturn {

struct FaultWords {
    Fault fault;
    const char* name;   ///< "air in the cover"
    const char* remedy; ///< what to look at
};
const FaultWords& words_of(Fault fault);

struct ReadingWords {
    Reading reading;
    const char* key; ///< after --seen: "static=4.9 bar"
    const char* meaning;
};
const ReadingWords& words_of(Reading reading);

/// What a sign is called after --seen: "hunts at low flow". All of them.
std::vector<std::string> sign_names();

/// "static=4.9 bar", "hunts at low flow". Throws scenarios::ScenarioError, which says what is allowed.
Sighting parse_sighting(std::span<const std::string> seen);

} // namespace needleturn
