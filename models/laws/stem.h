/// Stem: what the moving parts of valves and pilots have in common.
///
///     x = A (p_set - p_s) / k, between 0 and x_full
///
/// is where a spring balances a diaphragm: the adjusting screw presses the spring by A p_set when the part is shut. The dry
/// friction of stems is a part of its own, models/parts/stem_friction.h.
///
///     A(x) = A_d + A' x,   W(x) = A_d x + A' x^2 / 2                                                  (46)
///
/// is the effective area of a diaphragm whose convolution shifts as it moves, and what it displaces from its seat to the lift x. That
/// W is the integral of A makes the power of a pressure on it that of the water it displaces. Linear, because no more than two areas
/// of a valve are ever known, shut and wide open.
#pragma once

#include "models/laws/smooth.h"

#include <cmath>

namespace needleturn::models {

/// The lift, m, at which a spring of `rate` (N/m) balances `below` (Pa), the pressure under the set one, on `area` (m2).
inline double sprung_lift(double area, double below, double rate, double full_lift) {
    return std::fmin(std::fmax(area * below / rate, 0.0), full_lift);
}

/// m/s2, of a stem between spring, diaphragm, dashpot, seat and stop, the members of a part called so: (14), (31) and (71) without
/// what only some of them have. `opens` and `shuts` press on its diaphragm, Pa; opening is positive.
template <class Part, class S> S sprung_acceleration(const Part& of, S lift, S speed, S opens, S shuts) {
    const S forces = of.diaphragm_area * (opens - shuts) - of.spring_rate * lift - of.stem_damping * speed
                     + of.seat.force(-lift, -speed) - of.stop.force(lift - of.full_lift, speed);
    return forces / of.moving_mass;
}

/// What a pilot has open, m3 s-1 Pa-1/2: C_full y / y_full of (15) and (72). Exactly 0 when shut.
template <class Pilot, class S> S pilot_opening(const Pilot& of, S lift) {
    constexpr double rim = 1e-6; // m, as for the main trim
    return of.capacity / of.full_lift * beyond(lift, rim);
}

/// Equation (46): m2 and m3, of an area (m2) with a slope (m2 per m of lift).
template <class P, class S> S area_at(P area, P slope, S lift) { return area + slope * lift; }
template <class P, class S> S swept(P area, P slope, S lift) { return (area + 0.5 * slope * lift) * lift; }

} // namespace needleturn::models
