/// Restriction: flow against pressure drop through a fixed restriction, needle, seat or fitting.
///
///     dp = R q + q |q| / C^2     =>     q = 2 dp / (R + sqrt(R^2 + 4 |dp| / C^2)),                    (1)
///     R = sqrt(knee / 2) / C
///
///     q    flow, m3/s, positive in the direction of the drop
///     dp   pressure drop, Pa
///     C    capacity, m3 s-1 Pa-1/2, at the density of the water (models/laws/capacity.h)
///     R    laminar resistance, Pa s m-3
///     knee drop, Pa, of which half is laminar and half turbulent loss
///
/// Far above the knee q = C sqrt(dp); below it the flow is laminar, and so the law is smooth through zero,
/// where a bare square root has an infinite slope. The square-root law is that of IEC 60534-2-1 (turbulent,
/// not choked); the laminar part stands for the Reynolds number correction of that standard in its simplest
/// form.
#pragma once

#include <cmath>

namespace needleturn::models {

/// Knee, Pa, of passages of a few millimetres (needles, seats of pilots, fittings): Re of some hundreds in
/// 2 mm.
inline constexpr double small_passage_knee = 100;
/// Knee, Pa, of a main trim or an outlet of tens of millimetres, which is turbulent at any drop that matters.
inline constexpr double large_passage_knee = 5;

/// Equation (1) for C = 1: flow is `capacity * drop_root(dp, knee)`. Odd in dp; tends to sqrt(dp).
template <class S> S drop_root(S dp, double knee) {
    using std::abs;
    using std::sqrt;
    return 2.0 * dp / (std::sqrt(knee / 2) + sqrt(knee / 2 + 4.0 * abs(dp)));
}

} // namespace needleturn::models
