/// Storage: a volume of water in an elastic wall, with a trace of undissolved gas. Its state is the *virtual*
/// pressure b, the pressure it would have without the gas:
///
///     C db/dt = sum of inflows                                                                        (9)
///     P = (X + sqrt(X^2 + 4 K g)) / 2,   X = b_abs - p_v,   P = p_abs - p_v                           (10)
///
///     C  storage, m3/Pa = volume / K; K effective modulus, Pa
///     g  strength of the trace, Pa: gas fraction at atmospheric pressure times atmospheric pressure
///
/// The volume balance P - X = K g / P of an isothermal gas, solved exactly: (9) is linear, so volume is
/// conserved to rounding, and p_abs never falls below the vapour pressure p_v: when the water column parts,
/// the gas volume grows instead. Source: the discrete gas cavity of Wylie (1984), "Simulation of vaporous and
/// gaseous cavitation", J. Fluids Eng. 106:307, doi 10.1115/1.3243120 (from memory), here with the virtual
/// pressure as state.
#pragma once

#include "models/laws/air.h"
#include "sim/contract/select.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <tuple>

namespace needleturn::models {

/// Undissolved gas in ordinary water that the eye does not see.
template <class P> struct GasTraceOf {
    P strength = 0;            ///< g, Pa, > 0
    P vapour_pressure_abs = 0; ///< p_v, Pa absolute
    /// Pa gauge: the gas alone fills a room at this pressure, and at a lower one less than no water would be in it.
    P empty_below() const { return vapour_pressure_abs - atmospheric_pressure + strength; }
    static constexpr auto fields(auto& of) { return std::tie(of.strength, of.vapour_pressure_abs); }
    bool operator==(const GasTraceOf&) const = default;
};
using GasTrace = GasTraceOf<double>;

/// Fraction of the volume that free gas takes at atmospheric pressure. 1e-7 lowers the wave speed by 0.1 % at
/// 1 bar absolute and rounds the onset of a cavity over about 10 kPa; a physical parameter, chosen: clear
/// water has 1e-8 to 1e-6.
inline constexpr double trace_gas_fraction = 1e-7;

/// A pressure point as the parts beside it see it.
template <class P> struct PortOf {
    std::size_t pressure = 0; ///< which of the values is its pressure
    P per_volume = 0;         ///< 1 / C of equation (9): Pa of virtual pressure per m3 that flows in
};

template <class P> struct StorageOf {
    P per_pascal = 0; ///< C, m3/Pa, > 0
    P modulus = 0;    ///< K, Pa, > 0: volume = C K
    GasTraceOf<P> trace;

    PortOf<P> port(std::size_t pressure) const { return {pressure, 1.0 / per_pascal}; }

    /// Equation (10): gauge pressure, Pa, from the virtual one.
    template <class S> S pressure(S virtual_pressure) const {
        using std::sqrt;
        const P floor = trace.vapour_pressure_abs - atmospheric_pressure;
        const S x = virtual_pressure - floor;
        const P product = 4.0 * modulus * trace.strength;
        // The same root twice; for x < 0 the first form does not lose its digits.
        return either(
            x < S(0.0), [&] { return S(floor + 0.5 * product / (sqrt(x * x + product) - x)); },
            [&] { return S(floor + 0.5 * (x + sqrt(x * x + product))); });
    }

    /// The inverse: virtual pressure, Pa gauge, of a gauge pressure above that of vapour.
    P virtual_pressure(P pressure_gauge) const {
        const P p = pressure_gauge + atmospheric_pressure - trace.vapour_pressure_abs;
        return pressure_gauge - modulus * trace.strength / p;
    }

    /// Vapour pressure, Pa gauge. A virtual pressure below it is tension that the column does not bear: it parts.
    P vapour_gauge() const { return trace.vapour_pressure_abs - atmospheric_pressure; }

    /// Gauge pressure, Pa, below which the column counts as parted: where its virtual pressure would be that of vapour if the
    /// water held no more gas than the usual trace.
    P parts_below() const {
        using std::min;
        auto traced = *this;
        traced.trace.strength = min(trace.strength, P(trace_gas_fraction * atmospheric_pressure));
        return traced.pressure(vapour_gauge());
    }

    /// Volume, m3, of the gas at a gauge pressure.
    template <class S> S gas_volume(S pressure_gauge) const {
        return per_pascal * modulus * trace.strength
               / (pressure_gauge + atmospheric_pressure - trace.vapour_pressure_abs);
    }
    static constexpr auto fields(auto& of) { return std::tie(of.per_pascal, of.modulus, of.trace); }
    bool operator==(const StorageOf&) const = default;
};
using Storage = StorageOf<double>;

} // namespace needleturn::models
