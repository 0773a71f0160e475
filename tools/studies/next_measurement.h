/// What one more measurement would narrow, found by taking it on paper: the valve is given the reading that it would show with its
/// values as they are known, within the error that hands and gauges have, and all is derived again.
#pragma once

#include "scenarios/measured.h"
#include "tools/studies/measured_hardware.h"

#include <string>
#include <vector>

namespace needleturn {

/// A measurement that was not made, and what it would do.
struct NextMeasurement {
    struct Narrowed {
        std::string key;
        double before = 0, after = 0; ///< widths, ln(high / low)
    };
    std::string what;               ///< "opening stroke at 1 turn, timed within 5 %"
    std::vector<Narrowed> narrowed; ///< by a tenth of the width or more, the most first
    double gain = 0;                ///< sum of what the widths lose
};

/// All that would narrow something, the most useful first. `derived` comes from `measured` and is without contradictions.
std::vector<NextMeasurement> next_measurements(const scenarios::MeasuredValve& measured,
                                               const DerivedHardware& derived);

} // namespace needleturn
