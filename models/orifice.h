/// Discharge coefficients of orifices, and the capacity of an orifice's area.
///
///     q = Cd A sqrt(2 dp / rho)    =>    C = Cd A sqrt(2 / rho_ref)
///
/// Not modelled: cavitation in the orifice, rounded or worn edges, the recovery of pressure downstream (which
/// makes the lasting loss of an orifice smaller than dp at the taps when it fills much of the pipe).
#pragma once

#include "models/capacity.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>

namespace needleturn::models {

namespace detail {
/// Throws std::domain_error unless low <= value <= high; NaN throws too.
inline void require_orifice(const char* quantity, double value, double low, double high) {
    if (!(value >= low && value <= high))
        throw std::domain_error("orifice: " + std::string{quantity} + " is " + std::to_string(value)
                                + ", outside " + std::to_string(low) + " to " + std::to_string(high));
}
} // namespace detail

/// Capacity in m3/s per sqrt(Pa), at the reference density, of an orifice of `area` (m2). The approach
/// velocity is neglected: for a bore ratio beta multiply by 1/sqrt(1 - beta^4).
inline double orifice_capacity(double discharge, double area) {
    return discharge * area * std::sqrt(2 / reference_density);
}

/// Discharge coefficient of a thin sharp-edged orifice plate with corner taps: ISO 5167-2:2003
/// (Reader-Harris/Gallagher). `bore_ratio` (beta = d/D) 0.1 to 0.75, `reynolds` on the pipe bore 5000 to 1e8,
/// `pipe_bore` D in m, 0.05 to 1. Throws std::domain_error outside. Equation from memory.
inline double iso_5167_discharge(double bore_ratio, double reynolds, double pipe_bore) {
    detail::require_orifice("bore ratio", bore_ratio, 0.1, 0.75);
    detail::require_orifice("Reynolds number", reynolds, std::max(5000.0, 16000 * bore_ratio * bore_ratio),
                            1e8);
    detail::require_orifice("pipe bore in m", pipe_bore, 0.05, 1.0);
    const double a = std::pow(19000 * bore_ratio / reynolds, 0.8);
    const double small_pipe = 0.011 * (0.75 - bore_ratio) * std::max(0.0, 2.8 - pipe_bore / 0.0254);
    return 0.5961 + 0.0261 * std::pow(bore_ratio, 2) - 0.216 * std::pow(bore_ratio, 8)
           + 0.000521 * std::pow(1e6 * bore_ratio / reynolds, 0.7)
           + (0.0188 + 0.0063 * a) * std::pow(bore_ratio, 3.5) * std::pow(1e6 / reynolds, 0.3) + small_pipe;
}

/// Discharge coefficient of a long orifice in fully turbulent flow: Cd_u = 0.827 - 0.0085 l/d.
/// `length_ratio` l/d 2 to 10; throws std::domain_error outside.
/// Lichtarowicz, Duggins & Markland 1965, J. Mech. Eng. Sci. 7(2) 210-219.
inline double long_orifice_discharge(double length_ratio) {
    detail::require_orifice("length over bore", length_ratio, 2, 10);
    return 0.827 - 0.0085 * length_ratio;
}

/// The same at a given `reynolds`, on the orifice's bore and the ideal velocity sqrt(2 dp/rho), 10 to 20000:
///
///     1/Cd = 1/Cd_u + (20/Re)(1 + 2.25 l/d) - 0.005 l/d / (1 + 7.5 log10(0.00015 Re)^2)
///
/// Source as above (the Reynolds term from memory). Throws std::domain_error outside.
inline double long_orifice_discharge(double length_ratio, double reynolds) {
    detail::require_orifice("Reynolds number", reynolds, 10, 20000);
    const double l = std::log10(0.00015 * reynolds);
    return 1
           / (1 / long_orifice_discharge(length_ratio) + 20 / reynolds * (1 + 2.25 * length_ratio)
              - 0.005 * length_ratio / (1 + 7.5 * l * l));
}

} // namespace needleturn::models
