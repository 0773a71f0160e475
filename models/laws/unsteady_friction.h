/// Unsteady friction: the shear that lags behind a change of flow, as a sum of first-order filters.
///
///     friction = steady + (4 nu / R^2) (rho / A) W * dq/dt per length,   W(s) = eps + sum m_k / (s + n_k)
///     (1 + 4 eps) dq/dt = (steady) - (4 nu / R^2) sum (m_k q - z_k)                                          (25)
///     dz_k/dt = n_k (nu / R^2) (m_k q - z_k)                                                                 (26)
///
///     W  weighting function of dimensionless time tau = nu t / R^2; s its Laplace variable
///     R  radius, nu kinematic viscosity, z_k states in m3/s, one set per cell, m_k q in steady flow
///
/// Laminar: W. Zielke, J. Basic Eng. 90:109 (1968). Smooth turbulent: A. E. Vardy and J. M. B. Brown, J. Sound Vib.
/// 259:1011 (2003), W = exp(-tau/C*) / (2 sqrt(pi tau)), C* = 12.86 / Re^k, k = log10(15.29 / Re^0.0567). Both from
/// memory. The filters are this project's minimax fits of the transforms, the laminar one of
///     W(s) = (1 / (1 - 2 J1(x) / (x J0(x))) - 1 - 8/s) / 4,  x = i sqrt(s),  on s = iy, y from 20 to 1e6:
/// within 1.6 % with six filters, 0.32 % with eight; the turbulent one of 1/(2 sqrt(s)), |s| from 300 to 1e7: within
/// 2.1 % and 0.48 %. One turbulent fit serves every Reynolds number, its exponents shifted by 1/C*: to the fit's own
/// error. In time, W below tau = 1e-6 is only met on average; that part is eps, an inertia.
///
/// The profile of eddies in a pipe changes far more slowly than a surge passes, so the Reynolds number is that of the
/// flow before it ("frozen", as in the source) and constant during a run. Between Re 2000 and 4000 the two laws are
/// blended, smoothly in ln Re: no law is known there. Rough turbulent flow is treated as smooth.
#pragma once

#include "models/laws/smooth.h"

#include <cmath>
#include <cstddef>
#include <tuple>
#include <vector>

namespace needleturn::models {

/// One term m / (s + n), dimensionless.
template <class P> struct FrictionFilterOf {
    P rate = 0;   ///< n
    P weight = 0; ///< m
    static constexpr auto fields(auto& of) { return std::tie(of.rate, of.weight); }
    bool operator==(const FrictionFilterOf&) const = default;
};
using FrictionFilter = FrictionFilterOf<double>;

/// A weighting function; without filters there is no unsteady friction.
template <class P> struct FrictionMemoryOf {
    std::vector<FrictionFilterOf<P>> filters;
    P inertia = 0; ///< eps

    /// W at dimensionless time `tau` > 0, eps aside.
    P at(double tau) const {
        using std::exp;
        P sum = 0;
        for (const auto& filter : filters)
            sum += filter.weight * exp(-filter.rate * tau);
        return sum;
    }
    static constexpr auto fields(auto& of) { return std::tie(of.filters, of.inertia); }
    bool operator==(const FrictionMemoryOf&) const = default;
};
using FrictionMemory = FrictionMemoryOf<double>;

/// How closely the weighting function is met, and at what cost in states per cell.
enum class FrictionFit { six, eight };

/// Laminar flow.
inline FrictionMemory zielke(FrictionFit fit) {
    if (fit == FrictionFit::six)
        return {{{34.6192, 1.7289},
                 {243.627, 4.87781},
                 {1797.38, 13.5622},
                 {13529.1, 37.4148},
                 {101706, 101.838},
                 {784022, 312.639}},
                1.83207e-4};
    return {{{29.1286, 1.27506},
             {129.877, 2.6531},
             {580.502, 5.76269},
             {2637.24, 12.3984},
             {12061.6, 26.5918},
             {55185, 56.7632},
             {251435, 121.45},
             {1.30895e6, 363.576}},
            1.44946e-4};
}

/// 1/C* of smooth turbulent flow; `reynolds` > 0.
inline double shear_decay(double reynolds) {
    return std::pow(reynolds, std::log10(15.29 / std::pow(reynolds, 0.0567))) / 12.86;
}

/// Turbulent flow; `reynolds` 2000 to 1e8.
inline FrictionMemory vardy_brown(FrictionFit fit, double reynolds) {
    FrictionMemory memory;
    if (fit == FrictionFit::six)
        memory = {{{101.78, 6.28004},
                   {1270.14, 12.1701},
                   {10866.4, 35.7368},
                   {93930.7, 105.209},
                   {809190, 307.094},
                   {7.0794e6, 978.472}},
                  5.98141e-5};
    else
        memory = {{{60.691, 4.86214},
                   {603.589, 6.67792},
                   {3146.46, 14.5808},
                   {16099.1, 32.9655},
                   {82378.5, 74.5757},
                   {421487, 168.663},
                   {2.16098e6, 384.329},
                   {1.24927e7, 1167.31}},
                  4.58804e-5};
    for (auto& filter : memory.filters)
        filter.rate += shear_decay(reynolds);
    return memory;
}

/// Of the flow that runs at Reynolds number `reynolds` (>= 0) before the surge.
inline FrictionMemory friction_memory(FrictionFit fit, double reynolds) {
    constexpr double laminar_below = 2000, turbulent_above = 4000;
    const double middle = 0.5 * std::log(laminar_below * turbulent_above);
    const double turbulence = reynolds > 0 ? smooth_step(std::log(reynolds) - middle,
                                                         0.5 * std::log(turbulent_above / laminar_below))
                                           : 0;
    FrictionMemory memory = zielke(fit);
    if (turbulence == 0)
        return memory;
    const auto turbulent = vardy_brown(fit, reynolds);
    const auto blend = [turbulence](double& of, double towards) { of += turbulence * (towards - of); };
    for (std::size_t k = 0; k < memory.filters.size(); ++k) {
        blend(memory.filters[k].rate, turbulent.filters[k].rate);
        blend(memory.filters[k].weight, turbulent.filters[k].weight);
    }
    blend(memory.inertia, turbulent.inertia);
    return memory;
}

} // namespace needleturn::models
