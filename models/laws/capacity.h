/// Flow capacity.
///
///     q = C sqrt(dp / (rho / rho_ref)),    rho_ref = 1000 kg/m3
///
/// C is in m3/s per sqrt(Pa). It is stated for water near 15 degC (999.1 kg/m3, IEC 60534-1); taking 1000 kg/m3 instead
/// changes a flow by less than 0.05 %.
#pragma once

namespace needleturn::models {

/// kg/m3: the density at which a capacity is stated throughout this project.
inline constexpr double reference_density = 1000.0;

} // namespace needleturn::models
