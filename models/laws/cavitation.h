/// Cavitation index of a valve in water, and a first screening by it. All pressures in Pa absolute (or any one unit).
///
///     sigma = (p1 - p_v) / (p1 - p2)        ISA-RP75.23
///
/// Not modelled: damage, noise, and what the trim's shape does. Only a maker's or a laboratory's test tells
/// those.
#pragma once

namespace needleturn::models {

/// sigma; p1 > p2.
inline double cavitation_index(double inlet_abs, double outlet_abs, double vapour_pressure_abs) {
    return (inlet_abs - vapour_pressure_abs) / (inlet_abs - outlet_abs);
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
