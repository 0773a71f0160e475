/// Modes of small motion about a steady state: eigenvalues of the exact Jacobian.
#pragma once

#include "sim/equilibrium.h"

#include <Eigen/Eigenvalues>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <stdexcept>
#include <vector>

namespace needleturn::sim {

struct Mode {
    std::complex<double> eigenvalue; ///< 1/s; of a conjugate pair the one with positive imaginary part
    double frequency = 0;            ///< Hz, |imaginary part| / 2 pi
    double damping_ratio = 0;        ///< -Re / |eigenvalue|; negative grows
    bool oscillates() const { return eigenvalue.imag() > 0; }
};

/// All modes of the dynamic states about (t, y), the least damped (largest real part) first. Throws std::domain_error
/// where the equations have no derivative.
template <class S> std::vector<Mode> find_modes(const S& system, double t, const Eigen::VectorXd& y) {
    const Eigen::MatrixXd jacobian = scaled_jacobian(system, t, y);
    if (!jacobian.allFinite())
        throw std::domain_error("no modes: a derivative of the equations is not a number at this state");
    const Eigen::VectorXcd eigenvalues = jacobian.eigenvalues();
    std::vector<Mode> modes;
    for (const auto& value : eigenvalues)
        if (value.imag() >= 0)
            modes.push_back({value, value.imag() / (2 * std::numbers::pi),
                             std::abs(value) > 0 ? -value.real() / std::abs(value) : 0});
    std::sort(modes.begin(), modes.end(),
              [](const Mode& a, const Mode& b) { return a.eigenvalue.real() > b.eigenvalue.real(); });
    return modes;
}

} // namespace needleturn::sim
