/// Main valve: the stem with its disc and diaphragm. States: lift x and stem speed v.
///
///     dx/dt = v                                                                                       (6)
///     m dv/dt = A_s p1 + (A_d - A_s) p2 - A_d p_c - (F_0 + k x) - m g
///               - c v - F_f v / sqrt(v^2 + v_f^2) + F_seat(-x, -v) - F_stop(x - x_full, v)            (7)
///
/// and what the moving stem displaces, as flows out of inlet, outlet and cover:
///
///     A_s v,   (A_d - A_s) v,   -A_d v                                                                (7a)
///
/// (7a) makes the power of the pressures on the stem equal to that of the displaced water, and so the water
/// balance of the station close. Forces are positive opening; p1 inlet, p2 outlet and p_c cover pressure, Pa
/// gauge. Inlet pressure lifts the disc over the seat area A_s, outlet pressure the rest of the diaphragm A_d
/// from below, cover pressure closes; the stem stands upright. A force balance, no outside source; the
/// friction term is Coulomb friction made smooth, so it cannot hold a stem still against a small force: true
/// sticking is not modelled. Nor are flow forces on the disc (a fiftieth of A_s p1 at full flow) and an
/// effective diaphragm area that changes with lift.
#pragma once

#include "models/contact.h"
#include "models/trim.h"

#include <cmath>

namespace needleturn::models {

/// Standard acceleration of free fall, m/s2 (ISO 80000-3).
inline constexpr double gravity = 9.80665;

struct MainValve {
    double seat_area = 0;      ///< A_s, m2, > 0
    double diaphragm_area = 0; ///< A_d, m2, effective, > A_s
    double full_lift = 0;      ///< x_full, m, > 0
    double moving_mass = 0;    ///< m, kg, > 0
    double spring_preload = 0; ///< F_0, N, >= 0
    double spring_rate = 0;    ///< k, N/m, >= 0
    double stem_damping = 0;   ///< c, N s/m, >= 0
    double stem_friction = 0;  ///< F_f, N, >= 0
    Trim trim;
    Contact seat;
    Contact stop;

    /// Below this stem speed, m/s, friction fades: 1 mm/s is a stem that creeps.
    static constexpr double friction_speed = 1e-3;

    /// Equation (7) divided by m, m/s2.
    template <class S> S acceleration(S x, S v, S p1, S p2, S cover) const {
        using std::sqrt;
        const S pressures = seat_area * p1 + (diaphragm_area - seat_area) * p2 - diaphragm_area * cover;
        const S spring = spring_preload + spring_rate * x + moving_mass * gravity;
        S drag = stem_damping * v;
        if (stem_friction > 0)
            drag += stem_friction * v / sqrt(v * v + friction_speed * friction_speed);
        const S contacts = seat.force(-x, -v) - stop.force(x - full_lift, v);
        return (pressures - spring - drag + contacts) / moving_mass;
    }
    bool operator==(const MainValve&) const = default;
};

} // namespace needleturn::models
