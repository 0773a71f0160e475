/// Turns over a family: at each setting of the needles, how many of the valves that the ranges of the hardware allow keep every
/// limit; and which setting is best over all of them.
///
/// The same valves are run at every setting of a coarse grid, so that settings are compared valve by valve. The best of many looks
/// better than it is, for its luck helped to choose it: so it is run once more with as many other valves, and their share is told.
#pragma once

#include "tools/studies/valve_family.h"

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

namespace needleturn {

struct FamilyWindowQuestion {
    FamilyQuestion family;
    std::vector<std::string> needles; ///< keys whose turns are asked for; 1 to 3
    double fewest = 0.125, most = 6;  ///< turns, 0 < fewest < most
    unsigned threads = 1;
    std::function<bool()> go_on = {};    ///< asked now and then, from several threads; false ends the search
    std::function<void()> one_more = {}; ///< called after each run, from several threads, one at a time
};

/// What the valves do at one setting.
struct FamilySetting {
    std::vector<double> turns;  ///< of each needle
    std::size_t kept = 0;       ///< valves that keep every limit
    std::size_t broken = 0;     ///< that break one; the others are undecided or could not be run
    std::vector<char> by_valve; ///< 1: keeps every limit; a char each, for threads
};

struct FamilyWindow {
    std::vector<double> turns;           ///< the steps of the grid
    std::vector<FamilySetting> settings; ///< every combination of them, the last needle changing fastest
    std::size_t best = 0; ///< of them: most valves kept; of several, the one whose neighbours keep most
    std::size_t as_good =
        0; ///< other settings that these valves do not tell from the best: sign_test above `chance`
    FamilySetting proof; ///< the best one, with other valves: those of the next seed
    static constexpr double chance = 0.1;
};

/// Throws scenarios::ScenarioError, and std::runtime_error where the scenario states no limits. What is returned is of no use once
/// go_on has said no.
FamilyWindow find_family_window(const FamilyWindowQuestion& question);

} // namespace needleturn
