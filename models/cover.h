/// Cover: the chamber above the main diaphragm. States: cover pressure p_c and free air in it.
///
///     (V_w / K + g V_w / (p_abs - p_v)^2 + V_a / (n p_abs)) dp_c/dt = q_c + A_d v (8) V_w = V_0 - A_d x -
///     V_a(p_c)
///
///     q_c  flow into the cover, m3/s; v stem speed, m/s, opening, which makes the cover smaller
///     V_0  volume with the valve shut, m3; V_a trapped air (models/air.h), m3; V_w water
///     K    effective bulk modulus of water, wall and diaphragm together, Pa
///     g    trace of undissolved gas (models/storage.h), Pa
///
/// Volume balance with constant water density; air polytropic. The trace keeps the pressure above that of
/// vapour.
#pragma once

#include "models/air.h"
#include "models/storage.h"

namespace needleturn::models {

struct Cover {
    double volume = 0;         ///< V_0, m3, > A_d x_full
    double modulus = 0;        ///< K, Pa, > 0
    double diaphragm_area = 0; ///< A_d, m2
    double air_index = 1.2;    ///< n, [1, 1.4]
    GasTrace trace;

    /// Left side of (8) per pressure rate: compliance, m3/Pa, > 0.
    template <class S> S compliance(S pressure, S lift, S free_air) const {
        const S air = air_volume(free_air, pressure, air_index);
        const S absolute = pressure + atmospheric_pressure;
        const S gas = absolute - trace.vapour_pressure_abs;
        const S water = volume - diaphragm_area * lift - air;
        return water * (1.0 / modulus + trace.strength / (gas * gas)) + air / (air_index * absolute);
    }

    /// Equation (8): dp_c/dt, Pa/s.
    template <class S> S pressure_rate(S pressure, S lift, S free_air, S inflow, S stem_speed) const {
        return (inflow + diaphragm_area * stem_speed) / compliance(pressure, lift, free_air);
    }
};

} // namespace needleturn::models
