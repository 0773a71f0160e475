/// Sizing of a valve for liquids, with choking and reducers: IEC 60534-2-1:2011 (the same as
/// ANSI/ISA-75.01.01).
///
///     Q = N1 F_P C sqrt(dp_sizing / (rho/rho_0)),    dp_sizing = min(dp, (F_LP/F_P)^2 (p1 - F_F p_v))
///
/// The constants N1 and N2 carry the units: pass the set that fits the numbers. Pressures are absolute
/// throughout. Turbulent flow only: the Reynolds factor F_R is not modelled. Equations from memory of the
/// standard, checked against its annex.
#pragma once

#include "models/capacity.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

namespace needleturn::models {

struct SizingConstants {
    double n1; ///< flow per (capacity sqrt(pressure))
    double n2; ///< (capacity / length^2)^2
};

/// C in m3/s per sqrt(Pa), pressures in Pa, flow in m3/s, lengths in m. N2 = pi^2 / (8 rho_ref) follows from
/// dp = zeta rho v^2 / 2.
inline constexpr SizingConstants sizing_si{1.0, std::numbers::pi* std::numbers::pi / (8 * reference_density)};
inline constexpr SizingConstants sizing_kv_kpa{0.1, 0.0016};     ///< Kv, kPa, m3/h, mm
inline constexpr SizingConstants sizing_kv_bar{1.0, 0.0016};     ///< Kv, bar, m3/h, mm
inline constexpr SizingConstants sizing_cv_kpa{0.0865, 0.00214}; ///< Cv, kPa, m3/h, mm

/// The valve and the pipes it is joined to with short concentric reducers. Pipes are at least as large as the
/// valve.
struct Fittings {
    double valve;       ///< d, nominal size of the valve
    double inlet_pipe;  ///< D1, bore
    double outlet_pipe; ///< D2, bore
};

/// A valve in pipes of its own size.
inline constexpr Fittings line_size{1, 1, 1};

/// What flows, from where to where.
struct LiquidService {
    double inlet_pressure_abs;    ///< p1
    double outlet_pressure_abs;   ///< p2 <= p1
    double vapour_pressure_abs;   ///< p_v
    double critical_pressure_abs; ///< p_c
    double relative_density;      ///< rho / rho_0, rho_0 as for the capacity
};

namespace detail {
/// beta^2 = (d / D)^2. Throws std::domain_error when the pipe is smaller than the valve.
inline double area_ratio(double valve, double pipe) {
    if (!(valve > 0 && pipe >= valve))
        throw std::domain_error("valve sizing: the pipe must be at least as large as the valve");
    return valve * valve / (pipe * pipe);
}
} // namespace detail

/// zeta_1 + zeta_B1, the loss coefficients of the inlet reducer on the velocity head of the valve size:
/// zeta_1 = 0.5 (1 - (d/D1)^2)^2, zeta_B1 = 1 - (d/D1)^4.
inline double inlet_zeta(const Fittings& fittings) {
    const double ratio = detail::area_ratio(fittings.valve, fittings.inlet_pipe);
    return 0.5 * (1 - ratio) * (1 - ratio) + 1 - ratio * ratio;
}

/// Sum of all coefficients: zeta_1 + zeta_B1 + zeta_2 - zeta_B2, with zeta_2 = (1 - (d/D2)^2)^2, zeta_B2 = 1
/// - (d/D2)^4.
inline double zeta_sum(const Fittings& fittings) {
    const double ratio = detail::area_ratio(fittings.valve, fittings.outlet_pipe);
    return inlet_zeta(fittings) + (1 - ratio) * (1 - ratio) - (1 - ratio * ratio);
}

/// F_P = (1 + zeta_sum/N2 (C/d^2)^2)^(-1/2)
inline double piping_factor(SizingConstants n, double capacity, const Fittings& fittings) {
    const double relative = capacity / (fittings.valve * fittings.valve);
    return 1 / std::sqrt(1 + zeta_sum(fittings) / n.n2 * relative * relative);
}

/// F_LP = F_L / sqrt(1 + F_L^2/N2 (zeta_1 + zeta_B1) (C/d^2)^2)
inline double recovery_with_fittings(SizingConstants n, double capacity, double recovery,
                                     const Fittings& fittings) {
    const double relative = capacity / (fittings.valve * fittings.valve);
    return recovery / std::sqrt(1 + recovery * recovery * inlet_zeta(fittings) / n.n2 * relative * relative);
}

/// F_F = 0.96 - 0.28 sqrt(p_v / p_c): the pressure in the vena contracta of choked flow, relative to p_v.
inline double critical_pressure_ratio_factor(double vapour_pressure_abs, double critical_pressure) {
    return 0.96 - 0.28 * std::sqrt(vapour_pressure_abs / critical_pressure);
}

/// The pressure drop at which flow chokes: recovery^2 (p1 - F_F p_v); `recovery` is F_L, or F_LP / F_P with
/// reducers. Throws std::domain_error when p1 does not exceed F_F p_v.
inline double choked_pressure_drop(const LiquidService& service, double recovery) {
    const double left =
        service.inlet_pressure_abs
        - critical_pressure_ratio_factor(service.vapour_pressure_abs, service.critical_pressure_abs)
              * service.vapour_pressure_abs;
    if (!(left > 0))
        throw std::domain_error(
            "valve sizing: the inlet pressure is below that at which the liquid vaporises");
    return recovery * recovery * left;
}

namespace detail {
/// dp, or std::domain_error when the service flows backwards.
inline double pressure_drop(const LiquidService& service) {
    if (!(service.inlet_pressure_abs >= service.outlet_pressure_abs))
        throw std::domain_error("valve sizing: the outlet pressure exceeds the inlet pressure");
    return service.inlet_pressure_abs - service.outlet_pressure_abs;
}
} // namespace detail

/// Flow through a valve of `capacity` (C) and liquid pressure recovery factor `recovery` (F_L, 0 to 1).
inline double sized_flow(SizingConstants n, double capacity, double recovery, const Fittings& fittings,
                         const LiquidService& service) {
    const double f_p = piping_factor(n, capacity, fittings);
    const double f_lp = recovery_with_fittings(n, capacity, recovery, fittings);
    const double drop = std::min(detail::pressure_drop(service), choked_pressure_drop(service, f_lp / f_p));
    return n.n1 * f_p * capacity * std::sqrt(drop / service.relative_density);
}

/// The capacity that passes `flow`: the inverse of sized_flow, in closed form.
///
/// sized_flow is the lesser of an unchoked and a choked flow, and with b = zeta / (N2 d^4) both have the form
/// y = C / sqrt(1 + b C^2), so C = y / sqrt(1 - b y^2) and the larger of the two is wanted.
/// Throws std::domain_error when the reducers alone pass less than `flow` at this pressure drop.
inline double sized_capacity(SizingConstants n, double flow, double recovery, const Fittings& fittings,
                             const LiquidService& service) {
    const double per_zeta = 1 / (n.n2 * std::pow(fittings.valve, 4));
    const auto capacity = [&](double drop, double f, double zeta) {
        const double y = flow / (n.n1 * std::sqrt(drop / service.relative_density));
        const double left = f * f - zeta * per_zeta * f * f * y * y;
        if (!(left > 0))
            throw std::domain_error(
                "valve sizing: the reducers alone do not pass this flow; take a larger valve size");
        return y / std::sqrt(left);
    };
    return std::max(capacity(detail::pressure_drop(service), 1, zeta_sum(fittings)),
                    capacity(choked_pressure_drop(service, 1), recovery, inlet_zeta(fittings)));
}

} // namespace needleturn::models
