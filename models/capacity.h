/// Flow capacity, and the two trade coefficients that state it.
///
///     q = C sqrt(dp / (rho / rho_ref)),    rho_ref = 1000 kg/m3
///
/// C is in m3/s per sqrt(Pa). Kv is the flow in m3/h at 1 bar, Cv that in US gallons per minute at 1 psi,
/// both with water near 15 degC (999.1 kg/m3, IEC 60534-1); taking 1000 kg/m3 instead changes a flow by less
/// than 0.05 %.
#pragma once

#include <cmath>

namespace needleturn::models {

/// kg/m3: the density at which a capacity is stated throughout this project.
inline constexpr double reference_density = 1000.0;

namespace detail {
inline const double capacity_of_one_kv = 1.0 / 3600 / std::sqrt(1e5);
inline const double capacity_of_one_cv = 3.785411784e-3 / 60 / std::sqrt(6894.757293168361); // US gallon, psi
} // namespace detail

inline double capacity_of_kv(double kv) { return kv * detail::capacity_of_one_kv; }
inline double capacity_of_cv(double cv) { return cv * detail::capacity_of_one_cv; }
inline double kv_of_capacity(double capacity) { return capacity / detail::capacity_of_one_kv; }
inline double cv_of_capacity(double capacity) { return capacity / detail::capacity_of_one_cv; }

} // namespace needleturn::models
