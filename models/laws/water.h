/// Properties of liquid water, from 0 to 100 degC and from boiling to 100 MPa. Constant during a run, so
/// plain doubles.
///
/// Sources:
/// - density and speed of sound: IAPWS-IF97 (R7-97(2012)), region 1
/// - vapour pressure and boiling temperature: IAPWS-IF97, region 4
/// - viscosity: IAPWS R12-08, without the critical enhancement (below 0.1 % everywhere in the range above)
/// Not modelled: dissolved air and salts, temperature that changes during a run.
#pragma once

namespace needleturn::models {

/// Critical pressure of water, Pa absolute (IAPWS-IF97).
inline constexpr double critical_pressure_abs = 22.064e6;

/// Water, or another liquid whose properties somebody states.
struct Water {
    double density = 0;             ///< kg/m3
    double bulk_modulus = 0;        ///< Pa, isentropic: density times speed of sound squared
    double speed_of_sound = 0;      ///< m/s, in water without walls
    double viscosity = 0;           ///< Pa s, dynamic
    double vapour_pressure_abs = 0; ///< Pa absolute
    double critical_pressure_abs = models::critical_pressure_abs; ///< Pa absolute
};

/// Liquid water at `temperature` (K, 273.15 to 373.15) and `pressure_abs` (Pa absolute, from the vapour
/// pressure to 100e6). Throws std::domain_error outside, also where the water would boil.
Water water_at(double temperature, double pressure_abs = 101325.0);

/// Vapour pressure, Pa absolute, at `temperature` (K, 273.15 to 647.096). Throws std::domain_error outside.
double saturation_pressure(double temperature);

/// Boiling temperature, K, at `pressure_abs` (Pa absolute, 611.213 to 22.064e6: what saturation_pressure
/// spans). Throws std::domain_error outside.
double saturation_temperature(double pressure_abs);

/// Dynamic viscosity, Pa s, of water at `temperature` (K, 273.15 to 1173.15) and `density` (kg/m3, above 0).
/// Throws std::domain_error outside.
double water_viscosity(double temperature, double density);

/// What the Gibbs energy of region 1 gives.
struct LiquidState {
    double specific_volume = 0; ///< m3/kg
    double speed_of_sound = 0;  ///< m/s
    double heat_capacity = 0;   ///< J/(kg K), at constant pressure
};

/// Liquid water over the whole of region 1: `temperature` 273.15 to 623.15 K, `pressure_abs` from the vapour
/// pressure to 100e6 Pa absolute. Throws std::domain_error outside.
LiquidState liquid_at(double temperature, double pressure_abs);

} // namespace needleturn::models
