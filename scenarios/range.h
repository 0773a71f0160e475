/// What a number may be.
#pragma once

#include <limits>

namespace needleturn::scenarios {

/// In SI.
struct Range {
    double low = -std::numeric_limits<double>::infinity();
    double high = std::numeric_limits<double>::infinity();
    enum class Low { allowed, excluded } at_low = Low::allowed;

    bool contains(double value) const {
        return value <= high && (at_low == Low::allowed ? value >= low : value > low);
    }
};

inline constexpr Range positive{.low = 0, .at_low = Range::Low::excluded};
inline constexpr Range not_negative{.low = 0};

// Upper limits catch slips of a unit ("80 m" of bore) and keep water within the range of its formulas.
inline constexpr double highest_pressure = 500e5; // Pa
inline constexpr Range any_pressure{.low = 0, .high = highest_pressure};
inline constexpr Range positive_pressure{.low = 0, .high = highest_pressure, .at_low = Range::Low::excluded};
inline constexpr Range gas_share{.low = 0, .high = 0.02};
inline constexpr Range any_flow{.low = 0, .high = 100};

} // namespace needleturn::scenarios
