/// Holds what an event shows against the limits of the scenario.
#pragma once

#include "tools/studies/verdict.h"

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

/// The relief valve that lets out most in an event, and how much, m3. No name: none opens; NaN: none was looked at.
std::pair<std::string, double> most_let_out(const EventVerdict& event);

/// SI: the figure of an event that a limit is held against. NaN where it means nothing; infinity: not known, or never.
double measured(const scenarios::PlacedLimit& limit, const EventVerdict& event);

/// What is not kept, and what is not known to be kept, in the order of scenarios::stated_limits.
std::vector<Finding> findings_of(const EventVerdict& event, const scenarios::Accept& accept);

/// The event that comes nearest to a limit, or farthest beyond it, of those that have a figure.
struct WorstEvent {
    std::size_t event = 0; ///< its place in the verdict
    Finding figure;        ///< value, bound and place, whether the limit is kept or not
};

/// Nothing: no event has anything that it limits.
std::optional<WorstEvent> worst_event(const scenarios::StatedLimit& limit,
                                      const std::vector<EventVerdict>& verdict);

} // namespace needleturn
