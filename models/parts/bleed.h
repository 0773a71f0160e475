/// Bleed: a fitting at the top of the cover, cracked open by hand. Air leaves through it first, water once the air is gone.
///
///     q_air = E C_d A Y sqrt(R_s T) sqrt(2 p0 (p0 - p)) / p_atm                                        (34)
///     Y^2 = r^(2/g) g/(g-1) (1 - r^((g-1)/g)) / (1 - r),   r = p / p0 >= (2 / (g+1))^(g/(g-1))         (35)
///     q_water = (1 - E) C_d A sqrt(2 p_c / rho),   E = V_a / (V_a + V_spit)                            (36)
///
///     q_air  free air, m3/s at atmospheric pressure and the water's temperature, out of the cover
///     p0, p  absolute pressure on the side the air comes from and on the other; r below the critical ratio is choked
///     A      open area, m2; C_d discharge coefficient; V_a air in the cover, m3, at its pressure
///     E      share of the opening that air has: the surface lies near the fitting and it spits as long as some V_spit
///            of air is left
///     g      ratio of specific heats of air, 1.4; R_s its gas constant
///
/// (34) with (35) is the isentropic flow of a perfect gas through a nozzle from rest (Saint-Venant and Wantzel; tables in
/// NACA Report 1135, 1953), choked as ISO 9300 has it, written with the expansibility factor of ISO 5167-3. The air is
/// taken at the water's temperature: bleeding is slow beside the heat that wet walls give. Below atmospheric pressure the
/// fitting draws air in. Of air that warms and cools (models/parts/gas_heat.h) as many litres leave in a second as of air at the
/// water's temperature; it leaves as warm as it is, so that what stays behind only expands, and what is drawn in is as warm as the
/// water. Not modelled: water that the air carries along, a coefficient that rises when choked (a sharp
/// edge: 0.6 to 0.85), thread and hose behind the fitting.
#pragma once

#include "models/laws/air.h"
#include "models/laws/restriction.h"
#include "models/names.h"
#include "models/parts/cover.h"
#include "sim/contract/model.h"
#include "sim/contract/select.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Gas constant of air, J kg-1 K-1 (ISO 2533).
inline constexpr double air_gas_constant = 287.05287;

/// The pressure ratio below which air chokes: (2 / (g + 1))^(g / (g - 1)), 0.528.
inline double critical_air_ratio() {
    return std::pow(2 / (air_heat_ratio + 1), air_heat_ratio / (air_heat_ratio - 1));
}

/// Knee, Pa, of air in an opening (models/laws/restriction.h): so small that (34) holds to 1e-4 from 0.1 bar on.
inline constexpr double air_knee = 0.01;

/// Equation (35): Y for a pressure ratio from the critical one to 1.
template <class S> S air_expansibility(S ratio) {
    using std::pow;
    using std::sqrt;
    constexpr double k = (air_heat_ratio - 1) / air_heat_ratio;
    const S e = 1.0 - ratio;
    // (1 - r^k) / (k (1 - r)): where both differences lose their digits, the series.
    constexpr double near = 1e-4;
    const S mean = either(
        e < S(near), [&] { return S(1.0 + (1 - k) / 2 * e); },
        [&] { return S((1.0 - pow(ratio, k)) / (k * e)); });
    return sqrt(pow(ratio, 2 / air_heat_ratio) * mean);
}

/// Equation (34) for C_d A = 1 and E = 1: free air, m3/s per m2, from `from_abs` to `to_abs` (Pa absolute, from > to) at
/// `temperature` (K).
template <class S, class P> S air_nozzle(S from_abs, S to_abs, P temperature) {
    using std::max;
    using std::sqrt;
    const S ratio = max(to_abs / from_abs, S(critical_air_ratio()));
    const S drop = from_abs * (1.0 - ratio);
    return air_expansibility(ratio) * sqrt(2 * air_gas_constant * temperature) / atmospheric_pressure
           * sqrt(from_abs) * drop_root(drop, air_knee);
}

/// Where the turns of the fitting are among the values, a drive, and the meters of what bleed and leaks let into the open
/// air. Each means nothing where there is none.
struct BleedIndex {
    std::size_t bleed = 0, bled_air = 0, spilt = 0;
};

template <class P> struct BleedOf {
    P area = 0;        ///< A with the fitting fully open, m2, > 0
    P discharge = 0;   ///< C_d, (0, 1]
    P full_turns = 1;  ///< turns from tight to fully open, > 0; the area grows with the turns
    P capacity = 0;    ///< C_d A sqrt(2 / rho) of the full area, m3 s-1 Pa-1/2
    P temperature = 0; ///< of the air, K, > 0

    /// V_spit, m3: half a millilitre, a film of a few millimetres under a fitting. Chosen.
    static constexpr double spit = 0.5e-6;

    /// Open share of the area, 0 to 1.
    template <class S> S opening(S turns) const {
        using std::max;
        using std::min;
        return max(min(turns / full_turns, S(1.0)), S(0.0));
    }

    /// Equation (34): free air out of the cover, m3/s, at its pressure (Pa gauge) and with `free_air` (m3) in it.
    template <class S> S air_flow(S turns, S pressure, S free_air, P air_index) const {
        const S open = discharge * area * opening(turns);
        const S inside = pressure + atmospheric_pressure;
        const S outside(atmospheric_pressure);
        return either(
            pressure > S(0.0),
            [&] {
                return S(open * air_share(air_volume(free_air, pressure, air_index))
                         * air_nozzle(inside, outside, temperature));
            },
            [&] { return S(-open * air_nozzle(outside, inside, temperature)); });
    }

    /// Equation (34) of air that warms and cools: the share of it, 1/s, that leaves at `pressure` (Pa gauge), of which the adiabatic
    /// volume is `adiabatic` (m3).
    template <class S> S leaving_share(S turns, S pressure, S adiabatic, P air_index) const {
        using std::max;
        const S inside = max(pressure, S(0.0)) + atmospheric_pressure;
        const S volume = max(air_volume(adiabatic, pressure, air_index), S(0.0));
        const S outflow =
            discharge * area * opening(turns) * air_nozzle(inside, S(atmospheric_pressure), temperature);
        return outflow * atmospheric_pressure / (inside * (volume + spit));
    }

    /// Equation (34): free air drawn in, m3/s, >= 0, at `pressure` (Pa gauge).
    template <class S> S drawn_in(S turns, S pressure) const {
        using std::min;
        const S inside = min(pressure, S(0.0)) + atmospheric_pressure;
        return discharge * area * opening(turns) * air_nozzle(S(atmospheric_pressure), inside, temperature);
    }

    /// Equation (36): water out of the cover, m3/s at the density of 0 gauge.
    template <class S> S water_flow(S turns, S pressure, S free_air, P air_index) const {
        using std::max;
        const S share = air_share(air_volume(free_air, pressure, air_index));
        return (1.0 - share) * capacity * opening(turns)
               * drop_root(max(pressure, S(0.0)), small_passage_knee);
    }

    static void name_meter(BleedIndex& at, Names& names, const std::string& stage) {
        at.bled_air = names.add(stage + "_bleed.air", "m3", 1e-4,
                                "air bled since the start, volume at atmospheric pressure", Role::meter);
    }
    static void name_drive(BleedIndex& at, Names& drives, const std::string& stage) {
        at.bleed = drives.add(stage + ".bleed", "1", 1, "fitting at the top of the cover, turns from tight");
    }

    template <class On> void visit(On& on, const BleedIndex& at, const CoverOf<P>& cover,
                                   const CoverIndex& above, std::size_t lift) const {
        if (cover.heat) {
            visit_warm(on, at, cover, above, lift);
            return;
        }
        on(reads(above.cover, lift, above.air, at.bleed),
           writes(above.cover, above.air, at.bled_air, at.spilt),
           [this, &cover](auto p, auto x, auto free_air, auto turns) {
               using S = decltype(p);
               const auto air = this->air_flow(turns, p, free_air, cover.air_index);
               const auto water = this->water_flow(turns, p, free_air, cover.air_index);
               const auto gone = water + cover.in_place_of_air(p, air);
               return rates(cover.pressure_rate(p, x, free_air, S(-gone), S(0.0)), -air, air, water);
           });
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.area, of.discharge, of.full_turns, of.capacity, of.temperature);
    }
    bool operator==(const BleedOf&) const = default;

  private:
    template <class On> void visit_warm(On& on, const BleedIndex& at, const CoverOf<P>& cover,
                                        const CoverIndex& above, std::size_t lift) const {
        on(reads(above.cover, lift, above.air, above.amount, at.bleed),
           writes(above.cover, above.air, above.amount, at.bled_air, at.spilt),
           [this, &cover](auto p, auto x, auto adiabatic, auto amount, auto turns) {
               using S = decltype(p);
               const P ratio = cover.air_index;
               const S share = this->leaving_share(turns, p, adiabatic, ratio);
               const S drawn = this->drawn_in(turns, p);
               const S left = share * adiabatic - cover.heat->at_wall(drawn, p, ratio);
               const S out = share * amount - drawn;
               const S water = this->water_flow(turns, p, adiabatic, ratio);
               const S gone = water + cover.in_place_of_air(p, left);
               return rates(cover.pressure_rate(p, x, adiabatic, S(-gone), S(0.0)), -left, -out, out, water);
           });
    }

    template <class S> static S air_share(S volume) {
        using std::max;
        const S left = max(volume, S(0.0));
        return left / (left + spit);
    }
};
using Bleed = BleedOf<double>;

} // namespace needleturn::models
