/// The capacity of an orifice's area.
///
///     q = Cd A sqrt(2 dp / rho)    =>    C = Cd A sqrt(2 / rho_ref)
///
/// Not modelled: cavitation in the orifice, rounded or worn edges, the recovery of pressure downstream (which
/// makes the lasting loss of an orifice smaller than dp at the taps when it fills much of the pipe).
#pragma once

#include "models/laws/capacity.h"

#include <cmath>

namespace needleturn::models {

/// Capacity in m3/s per sqrt(Pa), at the reference density, of an orifice of `area` (m2). The approach
/// velocity is neglected: for a bore ratio beta multiply by 1/sqrt(1 - beta^4).
inline double orifice_capacity(double discharge, double area) {
    return discharge * area * std::sqrt(2 / reference_density);
}

} // namespace needleturn::models
