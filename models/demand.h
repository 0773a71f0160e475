/// Demand: where water leaves the line.
///
///     outlet:  q = C(t) root(p)   openings to the open air                                            (18)
///     draw:    q = Q(t) s(p)      a fixed flow whatever the pressure; s = 1 above 20 kPa, 0 at 0      (19)
///
/// p gauge, Pa. Root: equation (1). A draw must give way as the pressure vanishes: a consumer does not suck.
#pragma once

#include "models/restriction.h"
#include "models/smooth.h"

namespace needleturn::models {

struct Outlet {
    /// Equation (18), m3/s; water does not come back in.
    template <class S> S flow(S capacity, S pressure) const {
        using std::max;
        return capacity * drop_root(max(pressure, 0.0), large_passage_knee);
    }
    /// The capacity that passes `flow` at `pressure` (Pa, > 0).
    static double capacity_for(double flow, double pressure) {
        return flow / drop_root(pressure, large_passage_knee);
    }
};

struct Draw {
    static constexpr double full_above = 20e3; ///< Pa
    /// Equation (19), m3/s.
    template <class S> S flow(S wanted, S pressure) const {
        return wanted * smooth_step(pressure - full_above / 2, full_above / 2);
    }
};

} // namespace needleturn::models
