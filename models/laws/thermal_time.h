/// Thermal time of the gas in a vessel, models/parts/gas_heat.h:
///
///     tau = 0.3 p V^0.33 + 86.2 V^0.49
///
///     tau s; p precharge, bar absolute; V volume, m3
///
/// The fit of S. Rotthaeuser, "Verfahren zur Berechnung und Untersuchung hydropneumatischer Speicher", thesis, RWTH Aachen 1993, of
/// measured bladder vessels; from memory, and so is that it is of litres to tens of litres. The correlation of A. Pourmovahed and D.
/// R. Otis (J. Dyn. Syst. Meas. Control 112:116, 1990), of a piston vessel of 2.5 L at 10 to 195 bar and Rayleigh numbers of 2.6e8
/// to 9.5e10, could not be had. Nobody is known to have measured the air in a cover or in a pipe, over a surface of water: no
/// formula here for those.
#pragma once

#include <cmath>

namespace needleturn::models {

/// s, of `volume` (m3) precharged to `precharge_abs` (Pa absolute), both > 0.
inline double vessel_thermal_time(double volume, double precharge_abs) {
    return 0.3 * precharge_abs / 1e5 * std::pow(volume, 0.33) + 86.2 * std::pow(volume, 0.49);
}

} // namespace needleturn::models
