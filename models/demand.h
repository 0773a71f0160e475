/// Demand: where water leaves the line.
///
///     outlet:  q = C(t) root(p+)  openings to the open air; p+ = p above 0, next to nothing below     (18)
///     draw:    q = Q(t) s(p)      a fixed flow whatever the pressure; s = 1 above 20 kPa, 0 at 0      (19)
///
/// p gauge, Pa. Root: equation (1). A draw must give way as the pressure vanishes: a consumer does not suck. Nor does water
/// come back through an outlet; what air it then lets in is not modelled.
#pragma once

#include "models/restriction.h"
#include "models/smooth.h"

namespace needleturn::models {

struct Outlet {
    /// Pa, over which p+ turns from 0 to p: a thousandth of a millimetre of water. An empty line without supply rests on
    /// that corner, and a sharp one is a different equation at every rounding error. Wide beside the rounding of pressures
    /// (1e-10 Pa), and narrow enough that what seeps in under suction is 5e-6 of the flow at 4 bar.
    static constexpr double corner = 1e-2;

    /// Equation (18), m3/s.
    template <class S> S flow(S capacity, S pressure) const {
        return capacity * drop_root(above_zero(pressure, corner), large_passage_knee);
    }
    /// The capacity that passes `flow` at `pressure` (Pa, > 0).
    static double capacity_for(double flow, double pressure) { return flow / Outlet{}.flow(1.0, pressure); }
};

struct Draw {
    static constexpr double full_above = 20e3; ///< Pa
    /// Equation (19), m3/s.
    template <class S> S flow(S wanted, S pressure) const {
        return wanted * smooth_step(pressure - full_above / 2, full_above / 2);
    }
};

} // namespace needleturn::models
