/// Cover: the chamber above the main diaphragm. States: cover pressure p_c and free air in it.
///
///     (phi' V_w + phi V_a / (n p_abs)) dp_c/dt = q_c + phi A_d v                                  (8)
///     phi = 1 + p_c / K - g / (p_abs - p_v),   phi' = 1 / K + g / (p_abs - p_v)^2
///     V_w = V_0 - A_d x - V_a(p_c)
///
///     q_c  flow into the cover, m3/s; v stem speed, m/s, opening, which makes the cover smaller
///     V_0  volume with the valve shut, m3; V_a trapped air (models/laws/air.h), m3; V_w water
///     phi  density of the water, its trace of gas included, relative to that at 0 gauge
///     K    effective bulk modulus of water, wall and diaphragm together, Pa
///     g    trace of undissolved gas (models/laws/storage.h), Pa
///
/// The rate of the water stored, phi V_w, is the inflow: (8) is d(phi V_w)/dt = q_c written out, so that no water
/// is lost however often the stem goes up and down at changing pressure. Air polytropic. The trace keeps the
/// pressure above that of vapour.
#pragma once

#include "models/laws/air.h"
#include "models/laws/storage.h"
#include "models/names.h"

#include <cstddef>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Where its states are among the values.
struct CoverIndex {
    std::size_t cover = 0, air = 0;
};

template <class P> struct CoverOf {
    P volume = 0;         ///< V_0, m3, > A_d x_full
    P modulus = 0;        ///< K, Pa, > 0
    P diaphragm_area = 0; ///< A_d, m2
    P air_index = 1.2;    ///< n, [1, 1.4]
    GasTraceOf<P> trace;

    /// Water in the cover, m3 at the density of 0 gauge: phi V_w.
    template <class S> S stored(S pressure, S lift, S free_air) const {
        return density_at(pressure) * water(lift, air_volume(free_air, pressure, air_index));
    }

    /// Equation (8): dp_c/dt, Pa/s.
    template <class S> S pressure_rate(S pressure, S lift, S free_air, S inflow, S stem_speed) const {
        const S air = air_volume(free_air, pressure, air_index);
        const S traced = trace.strength / above_vapour(pressure);
        const S density = density_at(pressure);
        const S density_slope = 1.0 / modulus + traced / above_vapour(pressure);
        const S compliance = density_slope * water(lift, air)
                             + density * air / (air_index * (pressure + atmospheric_pressure));
        return (inflow + density * diaphragm_area * stem_speed) / compliance;
    }

    /// The water, m3/s at the density of 0 gauge, that would fill the room of leaving air, `free_flow` m3/s of it: as an
    /// outflow in (8) it stands for the air. models/bleed.h
    template <class S> S in_place_of_air(S pressure, S free_flow) const {
        return density_at(pressure) * air_volume(free_flow, pressure, air_index);
    }

    void name_states(CoverIndex& at, Names& names, const std::string& stage) const {
        names.part = stage + " cover";
        at.cover = names.add(stage + ".cover_pressure", pascal, bar, "pressure in the cover");
        at.air = names.add(stage + ".cover_air", "m3", 1e-4,
                           "air trapped in the cover, volume at atmospheric pressure", Role::amount);
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.volume, of.modulus, of.diaphragm_area, of.air_index, of.trace);
    }
    bool operator==(const CoverOf&) const = default;

  private:
    /// phi
    template <class S> S density_at(S pressure) const {
        return 1.0 + pressure / modulus - trace.strength / above_vapour(pressure);
    }
    template <class S> S above_vapour(S pressure) const {
        return pressure + (atmospheric_pressure - trace.vapour_pressure_abs);
    }
    /// V_w, m3
    template <class S> S water(S lift, S air) const { return volume - diaphragm_area * lift - air; }
};
using Cover = CoverOf<double>;

} // namespace needleturn::models
