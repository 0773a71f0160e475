/// Trapped air as a polytropic gas, and what a trace of free gas does to the speed of sound in water.
///
///     p_abs V^n = constant
///
/// The amount of air is given as its *free* volume, the volume it has at atmospheric pressure along its own
/// polytrope, so that an amount does not change when the pressure does:
///
///     V(p) = V_free (p_atm / p_abs)^(1/n)
///     -dV/dp = V / (n p_abs)                     the compliance of the air
///
/// n runs from 1.0 (slow, isothermal) to 1.4 (fast, adiabatic); 1.2 is usual for pipe systems (Wylie &
/// Streeter 1993, Fluid Transients in Systems; value from memory). Not modelled: solution and release of air
/// in water, heat transfer that moves n during a run.
#pragma once

#include <cmath>

namespace needleturn::models {

/// Standard atmosphere, Pa absolute (ISO 2533). The zero of every gauge pressure.
inline constexpr double atmospheric_pressure = 101325.0;

/// Volume in m3 of the trapped air whose volume at atmospheric pressure is `free_air` (m3, >= 0), at
/// `pressure` (Pa gauge, above -101325), on the polytrope of `index` (1 to 1.4).
template <class S> S air_volume(S free_air, S pressure, double index) {
    using std::pow;
    return free_air * pow(atmospheric_pressure / (pressure + atmospheric_pressure), 1 / index);
}

/// How much the volume of that air shrinks per pascal, m3/Pa, >= 0: -dV/dp = V / (n p_abs). Ranges as for
/// air_volume.
template <class S> S air_compliance(S free_air, S pressure, double index) {
    return air_volume(free_air, pressure, index) / (index * (pressure + atmospheric_pressure));
}

/// The free volume (m3) of air that occupies `volume` (m3) at `pressure` (Pa gauge): the inverse of
/// air_volume.
template <class S> S free_air_of(S volume, S pressure, double index) {
    using std::pow;
    return volume * pow((pressure + atmospheric_pressure) / atmospheric_pressure, 1 / index);
}

/// Speed of sound (m/s) in water that carries a volume fraction `gas_fraction` (0 to 1, at `pressure_abs`) of
/// free gas:
///
///     a = sqrt( (K/rho) / (1 + K D / (E e) + alpha (K/K_g - 1)) ),     K_g = n p_abs
///
/// The density of the mixture is taken as that of the water, so the form holds for small fractions (a few per
/// cent). `bulk_modulus` (K, Pa) and `density` (rho, kg/m3) are the water's; `wall_term` is K D / (E e) of
/// the pipe, 0 for a rigid one; `pressure_abs` in Pa, `index` as above. Source: Wylie & Streeter 1993 (form
/// from memory).
inline double mixture_wave_speed(double bulk_modulus, double density, double wall_term, double gas_fraction,
                                 double pressure_abs, double index) {
    const double gas_modulus = index * pressure_abs;
    return std::sqrt(bulk_modulus / density
                     / (1 + wall_term + gas_fraction * (bulk_modulus / gas_modulus - 1)));
}

} // namespace needleturn::models
