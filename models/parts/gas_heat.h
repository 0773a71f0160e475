/// Heat of a trapped gas: compressed, it warms, and then gives its heat to the walls and the water around it. State: adiabatic
/// volume F, that which the gas would take at atmospheric pressure if it came there without heat.
///
///     p V^g = p_atm F^g                                                                               (42)
///     dF/dt = (F_w - F) / (g tau),   F_w = N (p_atm / p)^(1 - 1/g)                                    (43)
///     T = T_w F / F_w                                                                                 (44)
///
///     p    absolute pressure of the gas; V its volume; T its temperature, K
///     N    its amount, as volume at atmospheric pressure and the temperature T_w of the walls, K
///     F_w  the adiabatic volume of a gas at this pressure that is as warm as the walls
///     g    ratio of specific heats; tau thermal time, s: m c_v / (h A), in which a difference from T_w falls to 1 / e at constant
///          volume
///
/// (43) is the first law of a closed perfect gas, m c_v dT/dt = -p dV/dt - m c_v (T - T_w) / tau, written in F: heat alone changes
/// it, so a gas that is compressed fast follows p V^g = constant exactly, and one compressed slowly p V = constant. (42) is the
/// polytrope of models/laws/air.h with g for its index and F for the free air: whoever knows that law needs no other. The model
/// with one thermal time is that of D. R. Otis and A. Pourmovahed, "An algorithm for computing nonflow gas processes in gas
/// springs and hydropneumatic accumulators", J. Dyn. Syst. Meas. Control 107:93 (1985), from memory, and of Pourmovahed and Otis,
/// "An experimental thermal time-constant correlation for hydraulic accumulators", 112:116 (1990); theirs of a real gas.
///
/// Not modelled: a gas that is not perfect (nitrogen at 20 bar is off by less than 1 %, from memory); vapour in the gas; walls and
/// water that warm; a thermal time that changes with pressure, volume and temperature; heat that runs ahead of the difference of
/// temperatures in fast swings (J. Hartig, B. Depp, M. Rexer and P. F. Pelz, arXiv:2012.06526, 2020).
#pragma once

#include "models/laws/air.h"

#include <cmath>
#include <tuple>

namespace needleturn::models {

template <class P> struct GasHeatOf {
    P time = 0; ///< tau, s, > 0
    P wall = 0; ///< T_w, K, > 0

    /// F_w of `amount` (m3) at `pressure` (Pa gauge, above -101325), m3; `ratio` is g.
    template <class N, class S> static S at_wall(N amount, S pressure, P ratio) {
        using std::pow;
        return amount * pow(atmospheric_pressure / (pressure + atmospheric_pressure), 1.0 - 1.0 / ratio);
    }

    /// Equation (43), m3/s.
    template <class S> S rate(S adiabatic, S at_wall, P ratio) const {
        return (at_wall - adiabatic) / (ratio * time);
    }

    /// Equation (44), K; that of the walls where there is no gas.
    template <class S> S temperature(S adiabatic, S at_wall) const {
        constexpr double none = 1e-12; // m3: a thousandth of a cubic millimetre
        return wall * ((adiabatic + none) / (at_wall + none));
    }

    static constexpr auto fields(auto& of) { return std::tie(of.time, of.wall); }
    bool operator==(const GasHeatOf&) const = default;
};
using GasHeat = GasHeatOf<double>;

} // namespace needleturn::models
