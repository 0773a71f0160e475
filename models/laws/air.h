/// Trapped air as a polytropic gas.
///
///     p_abs V^n = constant
///
/// The amount of air is given as its *free* volume, the volume it has at atmospheric pressure along its own
/// polytrope, so that an amount does not change when the pressure does:
///
///     V(p) = V_free (p_atm / p_abs)^(1/n)
///
/// n runs from 1.0 (slow, isothermal) to 1.4 (fast, adiabatic); 1.2 is usual for pipe systems (Wylie &
/// Streeter 1993, Fluid Transients in Systems; value from memory). Air whose heat moves it from the slow to the fast form during a
/// run: models/parts/gas_heat.h. Not modelled: solution and release of air in water.
#pragma once

#include <cmath>

namespace needleturn::models {

/// Ratio of specific heats of air (ISO 2533), and of nitrogen.
inline constexpr double air_heat_ratio = 1.4;

/// Standard atmosphere, Pa absolute (ISO 2533). The zero of every gauge pressure.
inline constexpr double atmospheric_pressure = 101325.0;

/// Volume in m3 of the trapped air whose volume at atmospheric pressure is `free_air` (m3, >= 0), at
/// `pressure` (Pa gauge, above -101325), on the polytrope of `index` (1 to 1.4).
template <class S, class P> S air_volume(S free_air, S pressure, P index) {
    using std::pow;
    return free_air * pow(atmospheric_pressure / (pressure + atmospheric_pressure), 1 / index);
}

/// The free volume (m3) of air that occupies `volume` (m3) at `pressure` (Pa gauge): the inverse of
/// air_volume.
template <class S, class P> S free_air_of(S volume, S pressure, P index) {
    using std::pow;
    return volume * pow((pressure + atmospheric_pressure) / atmospheric_pressure, 1 / index);
}

} // namespace needleturn::models
