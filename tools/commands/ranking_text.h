/// Words on a family, for every command: what it is of, and the inputs that matter most.
#pragma once

#include "tools/studies/valve_family.h"

#include <cstddef>
#include <span>
#include <string>

namespace needleturn {

/// What a family is of: a "valve", or a "station" where each is several of them. The plural has an s.
inline std::string member_of_family(const scenarios::Scenario& stated) {
    return stated.stages.size() > 1 ? "station" : "valve";
}

/// "38 of 100  (38 %; 30 to 47 %)": a share of a family and its bounds for all such members, at share_confidence.
std::string share_text(std::size_t count, std::size_t all);

/// "100 valves drawn from the ranges of 28 values of their hardware: Latin hypercube, seed 1"
std::string drawn_text(const FamilyQuestion& question, const scenarios::Scenario& stated);

/// How many valves of each family keep every limit, break one and so on, a line each, families side by side, with the bounds of the
/// shares; families of equally many. `member`: "valve".
std::string counts_text(std::span<const FamilyVerdict> families, const std::string& member);

/// Up to three inputs that move `what` by more than chance explains, or why none is named; lines after an empty one. `member`: "valve".
std::string ranking_text(const std::string& what, const InputRanking& ranking, const std::string& member);

} // namespace needleturn
