/// Direct-acting regulator: a spring opens the valve, the outlet pressure under the diaphragm closes it. States: lift x,
/// stem speed v; the chamber under the diaphragm is a storage (models/storage.h) with pressure p_s.
///
///     dx/dt = v                                                                                       (30)
///     m dv/dt = A (p_set - p_s) - k x - c v - F_f v / sqrt(v^2 + v_f^2) + F_seat(-x, -v) - F_stop(x - x_full, v)  (31)
///     C_chamber db_s/dt = C_port root(p2 - p_s) + A v                                                 (32)
///     q = C(x) root(p1 - p2), with the choking of models/trim.h
///
/// The adjusting screw presses the spring by A p_set when the valve is shut: p_set is the sensed pressure at which it
/// just shuts, the static set pressure. Each pascal the outlet falls below it opens the valve by A / k: that is its
/// fall-off. The sensing port throttles what the moving diaphragm displaces; that damps the stem, and a port too narrow
/// makes the regulator lag behind the pressure. Forces are positive opening, pressures Pa gauge. A force balance, no
/// outside source. The trim is balanced: inlet and outlet pressure on the disc itself are not modelled, nor are flow
/// forces, the stem's own weight and a diaphragm area that changes with lift.
#pragma once

#include "models/contact.h"
#include "models/restriction.h"
#include "models/trim.h"

#include <cmath>

namespace needleturn::models {

struct DirectRegulator {
    double diaphragm_area = 0; ///< A, m2, effective, > 0
    double full_lift = 0;      ///< x_full, m, > 0
    double moving_mass = 0;    ///< m, kg, > 0
    double spring_rate = 0;    ///< k, N/m, > 0
    double stem_damping = 0;   ///< c, N s/m, >= 0
    double stem_friction = 0;  ///< F_f, N, >= 0
    double port_capacity = 0;  ///< C_port, m3 s-1 Pa-1/2, > 0
    Trim trim;
    Contact seat;
    Contact stop;

    /// Below this stem speed, m/s, friction fades: 1 mm/s is a stem that creeps.
    static constexpr double friction_speed = 1e-3;

    /// Equation (31) divided by m, m/s2.
    template <class S> S acceleration(S x, S v, S set, S sensed) const {
        using std::sqrt;
        S drag = stem_damping * v;
        if (stem_friction > 0)
            drag += stem_friction * v / sqrt(v * v + friction_speed * friction_speed);
        return (diaphragm_area * (set - sensed) - spring_rate * x - drag + seat.force(-x, -v)
                - stop.force(x - full_lift, v))
               / moving_mass;
    }

    /// The flow of the port in (32), m3/s, positive towards the chamber.
    template <class S> S port_flow(S outlet, S sensed) const {
        return port_capacity * drop_root(outlet - sensed, small_passage_knee);
    }

    /// The lift, m, at which the spring balances a steady sensed pressure below the set pressure.
    double steady_lift(double set, double sensed) const {
        return std::fmin(std::fmax(diaphragm_area * (set - sensed) / spring_rate, 0.0), full_lift);
    }
    bool operator==(const DirectRegulator&) const = default;
};

} // namespace needleturn::models
