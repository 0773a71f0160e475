/// Cavitation indices of a valve in water, and a first screening by them. All pressures in Pa absolute (or
/// any one unit).
///
///     sigma   = (p1 - p_v) / (p1 - p2)        ISA-RP75.23
///     sigma_T = (p2 - p_v) / (p1 - p2)        Tullis, NUREG/CR-6031;  sigma_T = sigma - 1
///
/// Not modelled: damage, noise, and what the trim's shape does. Only a maker's or a laboratory's test tells
/// those.
#pragma once

namespace needleturn::models {

/// sigma; p1 > p2.
inline double cavitation_index(double inlet_abs, double outlet_abs, double vapour_pressure_abs) {
    return (inlet_abs - vapour_pressure_abs) / (inlet_abs - outlet_abs);
}

/// sigma_T; p1 > p2.
inline double tullis_index(double inlet_abs, double outlet_abs, double vapour_pressure_abs) {
    return (outlet_abs - vapour_pressure_abs) / (inlet_abs - outlet_abs);
}

/// The sigma at which a valve of liquid pressure recovery factor `recovery` (F_L) chokes: 1 / F_L^2, for F_F
/// near 1.
inline double choking_index(double recovery) { return 1 / (recovery * recovery); }

/// sigma of a full-size valve from that of a reference test: (sigma_R SSE - 1) PSE + 1, with the size and
/// pressure scale effects SSE and PSE. ISA-RP75.23.
inline double scaled_index(double reference, double size_effect, double pressure_effect) {
    return (reference * size_effect - 1) * pressure_effect + 1;
}

enum class Cavitation {
    none,      ///< sigma of 2 and above
    incipient, ///< 1.7 to 2
    constant,  ///< 1.5 to 1.7
    damaging   ///< below 1.5
};

/// Bands for a generic globe trim: common practice (from memory), good for a first warning and no more.
inline Cavitation screen_cavitation(double index) {
    if (index >= 2.0)
        return Cavitation::none;
    if (index >= 1.7)
        return Cavitation::incipient;
    return index >= 1.5 ? Cavitation::constant : Cavitation::damaging;
}

} // namespace needleturn::models
