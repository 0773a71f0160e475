/// What follows from what, where everything is known within a range only.
///
/// A relation says that one fact is a function of others, and the function rises or falls with each of them. So its lowest and
/// highest value over all ranges stand at their ends, and each range can be cut to the part that the others leave possible. Relations
/// are applied in turn until nothing changes: interval constraint propagation with box consistency (Davis, Artificial Intelligence 32,
/// 1987; Benhamou, McAllester and Van Hentenryck, 1994; both from memory). No value that fits all relations is ever cut away. What is
/// left may hold values that do not fit, for only ranges are kept and not what ties them together.
#pragma once

#include "scenarios/units.h"

#include <functional>
#include <map>
#include <span>
#include <string>
#include <vector>

namespace needleturn {

/// A quantity known within a range, SI, low <= high, 0 <= low.
struct Fact {
    double low = 0, high = 0;
    scenarios::Dimension dimension = scenarios::Dimension::ratio;
    bool generic = false; ///< judgement about valves of this kind, or not known; no statement about this one
    std::vector<std::string> by = {}; ///< relations that cut it, "closing 1 (7, 12)"
};
using Facts = std::map<std::string, Fact>;

enum class Direction {
    rising,
    falling,
    either ///< depends on the other inputs
};

struct Relation {
    struct Input {
        std::string fact;
        Direction direction = Direction::rising;
    };
    std::string name;      ///< "closing 1"
    std::string equations; ///< numbers of models/README.md, or words
    std::string result;    ///< fact
    std::vector<Input> inputs;
    std::function<double(std::span<const double>)> value; ///< of the inputs, in their order
    /// What the relation mainly tells of. Where the ranges contradict each other and one of these alone is generic, this valve is
    /// unlike the generic one; where one of these is all that is generic in the relation, it is measured. In both cases that fact
    /// becomes what the others make of it.
    std::vector<std::string> gives_way = {};
};

/// Ranges that do not meet.
struct Contradiction {
    std::string relation, equations;
    std::string result;                 ///< fact
    Fact stated;                        ///< as it stands
    double low = 0, high = 0;           ///< as it follows from the inputs
    std::vector<std::string> generic;   ///< of `gives_way`, which are judgement only
    std::vector<std::string> gives_way; ///< of the relation

    /// How many times the nearer ends are apart, > 1.
    double apart() const;
};

/// Cuts the facts by the relations until nothing changes. A relation that contradicts the facts is reported and not used.
std::vector<Contradiction> narrow(Facts& facts, std::span<const Relation> relations);

} // namespace needleturn
