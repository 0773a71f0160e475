/// What is known of a value of hardware: the range in which it lies.
///
/// In a file a value may carry its range:
///     "78.5 cm2 +- 10 %"   10 % of the value either way, also of a bare ratio: "1.3 +- 10 %"
///     "78.5 +- 5 cm2"      so much either way
///     "423 N s/m x/ 2"     by a factor either way: from a half of it to twice
///     "0.05..0.1 Cv"       anywhere between; the value is the geometric mean, or half the upper end where the lower one is 0
/// The plus-minus sign and the signs of times and division in one character are the same. A value without a range is known exactly.
/// A table `ranges` states ranges beside the values: `pilot.capacity = "x/ 1.5"`, "+- 10 %", "+- 5 cm2" or "0.05..0.1 Cv". In a
/// hardware file, [ranges] holds for all sizes that do not state their own.
///
/// Between its ends a value is as likely in one place as in another by its logarithm (half of it and twice it are as likely), or,
/// where the range begins at 0, by the value itself. Values are drawn independently of each other.
#pragma once

#include "scenarios/units.h"

#include <optional>
#include <string>
#include <string_view>

namespace needleturn::scenarios {

struct HardwareRange {
    std::string key; ///< below the hardware: "main_valve.seat_area"
    Dimension dimension = Dimension::ratio;
    double low = 0, high = 0; ///< SI, 0 <= low <= value <= high
    std::string origin;       ///< where it is stated: "pilot-operated.toml:27: ranges.pilot.capacity"

    /// The origin aside: a range that is written and read again is the same.
    bool operator==(const HardwareRange& other) const {
        return key == other.key && dimension == other.dimension && low == other.low && high == other.high;
    }
};

/// A value with what is known of it, SI, low <= value <= high.
struct RangedValue {
    double value = 0, low = 0, high = 0;
};

/// Whether the text is that of a range, right or wrong.
bool is_range(std::string_view text);

/// Reads a value with its range; not finite nor in order where the ends are so. Throws UnitError.
RangedValue parse_ranged(std::string_view text, Dimension dimension);

/// Reads the range of a value that is known: "+- 10 %", "x/ 1.3", "0.05..0.1 Cv". Throws UnitError.
RangedValue parse_range_of(double value, std::string_view text, Dimension dimension);

/// "0.05..0.1 m2", which parse_range_of turns back into the same ends.
std::string exact_range(const HardwareRange& range);

} // namespace needleturn::scenarios
