/// Cover: the chamber above the main diaphragm. States: cover pressure p_c and free air in it; of air that warms and cools its
/// amount and its adiabatic volume, which then stands for the free air (models/parts/gas_heat.h).
///
///     (phi' V_w + phi V_a / (n p_abs)) dp_c/dt = q_c + phi A v                                    (8)
///     phi = 1 + p_c / K - g / (p_abs - p_v),   phi' = 1 / K + g / (p_abs - p_v)^2
///     V_w = V_0 - W(x) - V_a(p_c)
///
///     q_c  flow into the cover, m3/s; v stem speed, m/s, opening, which makes the cover smaller
///     A, W effective area at the lift x, m2, and what it displaces to there, m3: (46) of models/laws/stem.h
///     V_0  volume with the valve shut, m3; V_a trapped air (models/laws/air.h), m3; V_w water
///     phi  density of the water, its trace of gas included, relative to that at 0 gauge
///     K    effective bulk modulus of water, wall and diaphragm together, Pa
///     g    trace of undissolved gas (models/laws/storage.h), Pa
///
/// The rate of the water stored, phi V_w, is the inflow: (8) is d(phi V_w)/dt = q_c written out, so that no water
/// is lost however often the stem goes up and down at changing pressure. Air polytropic, n the ratio of specific heats where it
/// warms and cools. The trace keeps the pressure above that of vapour.
#pragma once

#include "models/laws/air.h"
#include "models/laws/stem.h"
#include "models/laws/storage.h"
#include "models/names.h"
#include "models/parts/gas_heat.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <optional>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Where its states are among the values.
struct CoverIndex {
    std::size_t cover = 0;
    std::size_t air = 0;    ///< free air; with heat the adiabatic volume
    std::size_t amount = 0; ///< free air, with and without heat
};

template <class P> struct CoverOf {
    P volume = 0;         ///< V_0, m3, > W(x_full)
    P modulus = 0;        ///< K, Pa, > 0
    P diaphragm_area = 0; ///< A_d, m2, shut
    P air_index = 1.2;    ///< n, [1, 1.4]; with heat the ratio of specific heats
    GasTraceOf<P> trace;
    std::optional<GasHeatOf<P>> heat = std::nullopt; ///< of the trapped air; absent: polytropic
    P area_slope = 0;                                ///< A', m2 per m of lift

    /// Of water and air together, m3: V_0 - W(x).
    template <class S> S room(S lift) const { return volume - swept(diaphragm_area, area_slope, lift); }

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
        return (inflow + density * area_at(diaphragm_area, area_slope, lift) * stem_speed) / compliance;
    }

    /// The water, m3/s at the density of 0 gauge, that would fill the room of leaving air, `free_flow` m3/s of it: as an
    /// outflow in (8) it stands for the air. models/bleed.h
    template <class S> S in_place_of_air(S pressure, S free_flow) const {
        return density_at(pressure) * air_volume(free_flow, pressure, air_index);
    }

    /// Puts air into it that takes up `room` (m3) at `pressure` (Pa gauge), as warm as the walls, for what was there. `y` are the
    /// states as stored.
    template <class S> void put_air(const CoverIndex& at, S room, S pressure, S* y) const {
        put_free_air(at, free_air_of(room, pressure, heat ? P(1.0) : air_index), y);
    }
    /// The same of air given as its volume at atmospheric pressure, m3.
    template <class S> void put_free_air(const CoverIndex& at, S free_air, S* y) const {
        y[at.air] = heat ? heat->at_wall(free_air, y[at.cover], air_index) : free_air;
        if (heat)
            y[at.amount] = free_air;
    }

    void name_states(CoverIndex& at, Names& names, const std::string& stage) const {
        names.part = stage + " cover";
        at.cover = names.add(stage + ".cover_pressure", pascal, bar, "pressure in the cover");
        names.set_lowest(trace.empty_below());
        const auto amount =
            names.add(stage + ".cover_air", "m3", typical_air,
                      "air trapped in the cover, volume at atmospheric pressure", Role::amount);
        at.air = at.amount = amount;
        if (heat)
            at.air = names.add(
                stage + ".cover_air_adiabatic_volume", "m3", typical_air,
                "volume that the air in the cover would take at atmospheric pressure if it came there "
                "without heat");
    }

    void name_signals(Names& names, const std::string& stage) const {
        names.add(stage + ".cover_air_volume", "m3", typical_air,
                  "volume of the trapped air at the cover pressure");
        if (heat)
            names.add(stage + ".cover_air_temperature", "K", 10, "temperature of the trapped air");
    }

    /// What name_signals names, from the values, in the same order.
    template <class T> void observe(const CoverIndex& at, const T* value, T*& out) const {
        *out++ = air_volume(value[at.air], value[at.cover], air_index);
        if (heat)
            *out++ =
                heat->temperature(value[at.air], heat->at_wall(value[at.amount], value[at.cover], air_index));
    }

    /// The heat of the air; what flows into the cover is the parts' beside it.
    template <class On> void visit(On& on, const CoverIndex& at, std::size_t lift) const {
        if (heat)
            on(reads(at.cover, lift, at.air, at.amount), writes(at.cover, at.air),
               [this](auto p, auto x, auto adiabatic, auto amount) {
                   using S = decltype(p);
                   const S rate = heat->rate(adiabatic, heat->at_wall(amount, p, air_index), air_index);
                   return rates(this->pressure_rate(p, x, adiabatic, this->in_place_of_air(p, rate), S(0.0)),
                                rate);
               });
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.volume, of.modulus, of.diaphragm_area, of.air_index, of.trace, of.heat,
                        of.area_slope);
    }
    bool operator==(const CoverOf&) const = default;

  private:
    static constexpr double typical_air = 1e-4; // m3

    /// phi
    template <class S> S density_at(S pressure) const {
        return 1.0 + pressure / modulus - trace.strength / above_vapour(pressure);
    }
    template <class S> S above_vapour(S pressure) const {
        return pressure + (atmospheric_pressure - trace.vapour_pressure_abs);
    }
    /// V_w, m3
    template <class S> S water(S lift, S air) const { return room(lift) - air; }
};
using Cover = CoverOf<double>;

} // namespace needleturn::models
