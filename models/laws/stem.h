/// Stem: what the moving parts of valves and pilots have in common.
///
///     F_drag = c v + F_f v / sqrt(v^2 + v_f^2)
///     x = A (p_set - p_s) / k, between 0 and x_full
///
/// The drag is viscous damping and Coulomb friction made smooth, so it cannot hold a stem still against a small force: true
/// sticking is not modelled. The second is where a spring balances a diaphragm: the adjusting screw presses the spring by
/// A p_set when the part is shut.
#pragma once

#include "sim/contract/select.h"

#include <cmath>

namespace needleturn::models {

/// v_f: below this stem speed, m/s, friction fades: 1 mm/s is a stem that creeps.
inline constexpr double friction_speed = 1e-3;

/// Force, N, against a stem speed v, m/s; `damping` c, N s/m, `friction` F_f, N, both >= 0.
template <class P, class S> S stem_drag(P damping, P friction, S v) {
    using std::sqrt;
    const S viscous = damping * v;
    return where(
        friction > 0.0,
        [&] { return S(viscous + friction * v / sqrt(v * v + friction_speed * friction_speed)); },
        [&] { return S(viscous); });
}

/// The lift, m, at which a spring of `rate` (N/m) balances `below` (Pa), the pressure under the set one, on `area` (m2).
inline double sprung_lift(double area, double below, double rate, double full_lift) {
    return std::fmin(std::fmax(area * below / rate, 0.0), full_lift);
}

} // namespace needleturn::models
