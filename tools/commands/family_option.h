/// --uncertain and --seed, of the commands that ask their question of a family of valves.
#pragma once

#include "tools/commands/options.h"
#include "tools/studies/valve_family.h"

#include <cstdint>
#include <initializer_list>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

/// As typed; empty: not given.
struct FamilyOption {
    std::string valves, seed;

    bool given() const { return !valves.empty(); }
};

/// `usual` is how many valves there are where --uncertain stands alone.
void add_family(Command command, FamilyOption& option, const char* usual, const std::string& description);

/// `more_seeds`: how many behind the one given are drawn from, too. Throws std::runtime_error, one line that begins with the option,
/// for a number that is none or out of range.
FamilyQuestion family_question(const FamilyOption& option, const std::string& scenario,
                               const std::vector<scenarios::Override>& set, std::uint64_t more_seeds = 0);

/// Throws std::runtime_error where there is a seed without --uncertain.
void refuse_seed_alone(const FamilyOption& option);

/// Options that do not go with --uncertain, and whether each is given; throws std::runtime_error naming the first that is.
void refuse_beside_family(std::initializer_list<std::pair<const char*, bool>> options);

} // namespace needleturn
