/// Stem: what the moving parts of valves and pilots have in common.
///
///     x = A (p_set - p_s) / k, between 0 and x_full
///
/// is where a spring balances a diaphragm: the adjusting screw presses the spring by A p_set when the part is shut. The dry
/// friction of stems is a part of its own, models/parts/stem_friction.h.
#pragma once

#include <cmath>

namespace needleturn::models {

/// The lift, m, at which a spring of `rate` (N/m) balances `below` (Pa), the pressure under the set one, on `area` (m2).
inline double sprung_lift(double area, double below, double rate, double full_lift) {
    return std::fmin(std::fmax(area * below / rate, 0.0), full_lift);
}

} // namespace needleturn::models
