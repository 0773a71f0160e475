/// Pilot: a small spring-and-diaphragm valve that lets the cover drain to the outlet. States: pilot lift y
/// and speed w.
///
///     dy/dt = w                                                                                       (13)
///     m dw/dt = A_p (p_set - p_s) - k y - c w + F_seat(-y, -w) - F_stop(y - y_full, w)                (14)
///     q_pilot = C_full (y / y_full) root(p_t - p2)                                                    (15)
///
/// The adjusting screw presses the spring by A_p p_set when the pilot is shut: p_set is the sensed pressure
/// p_s at which it just shuts, the static set pressure. Each pascal the outlet falls below it opens the pilot
/// by A_p / k. A force balance, no outside source. Not modelled: the pressure of tee and outlet on the
/// pilot's own seat, friction.
#pragma once

#include "models/contact.h"
#include "models/restriction.h"
#include "models/smooth.h"

namespace needleturn::models {

struct Pilot {
    double capacity = 0;       ///< C_full, m3 s-1 Pa-1/2, > 0
    double full_lift = 0;      ///< y_full, m, > 0
    double diaphragm_area = 0; ///< A_p, m2, > 0
    double spring_rate = 0;    ///< k, N/m, > 0
    double moving_mass = 0;    ///< m, kg, > 0
    double stem_damping = 0;   ///< c, N s/m, >= 0
    Contact seat;
    Contact stop;

    /// Equation (14) divided by m, m/s2.
    template <class S> S acceleration(S y, S w, S set, S sensed) const {
        const S forces = diaphragm_area * (set - sensed) - spring_rate * y - stem_damping * w
                         + seat.force(-y, -w) - stop.force(y - full_lift, w);
        return forces / moving_mass;
    }

    /// Equation (15), m3/s, positive from the tee to the outlet. Exactly 0 when shut.
    template <class S> S flow(S y, S tee, S outlet) const {
        constexpr double rim = 1e-6; // m, as for the main trim
        return capacity / full_lift * beyond(y, rim) * drop_root(tee - outlet, small_passage_knee);
    }
    bool operator==(const Pilot&) const = default;
};

} // namespace needleturn::models
