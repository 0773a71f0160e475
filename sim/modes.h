/// Modes of small motion about a steady state: eigenvalues of the exact Jacobian.
#pragma once

#include "sim/equilibrium.h"

#include <Eigen/Eigenvalues>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <stdexcept>
#include <string>
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

/// How much a part of the model (Quantity::part) takes part in a mode.
struct Participation {
    std::string part;
    double share = 0; ///< of the whole, 0 to 1
};

/// The parts that take part in `mode` of the motion about (t, y), the most important first; their shares add up to 1.
///
/// The share of a state is |l_k r_k| / sum |l_i r_i| with the left and right eigenvectors l and r: how much the eigenvalue
/// answers to the state's own term in the Jacobian. It does not depend on the units of the states. I. J. Perez-Arriaga,
/// G. C. Verghese and F. C. Schweppe, "Selective modal analysis", IEEE Trans. Power Apparatus and Systems 101:3117 (1982)
/// (from memory). The vectors come from inverse iteration beside the eigenvalue.
template <class S> std::vector<Participation> participation(const S& system, double t,
                                                            const Eigen::VectorXd& y, const Mode& mode) {
    const Eigen::MatrixXcd jacobian = scaled_jacobian(system, t, y).template cast<std::complex<double>>();
    const Eigen::Index n = jacobian.rows();
    // Beside the eigenvalue, not on it: there the matrix has no inverse.
    const auto beside = mode.eigenvalue * (1 + 1e-9) + 1e-12;
    const auto lu = (jacobian - beside * Eigen::MatrixXcd::Identity(n, n)).partialPivLu();
    Eigen::VectorXcd right = Eigen::VectorXcd::Ones(n), left = right;
    constexpr int iterations = 3; // each multiplies the eigenvector by 1e9 over the distance of the next one
    for (int i = 0; i < iterations; ++i) {
        right = lu.solve(right).eval();
        right.normalize();
        left = lu.transpose().solve(left).eval();
        left.normalize();
    }
    const Eigen::VectorXd weight = left.cwiseProduct(right).cwiseAbs();

    const auto dynamic = dynamic_states(system);
    const auto& states = system.model().states();
    std::vector<Participation> parts;
    for (Eigen::Index k = 0; k < n; ++k) {
        const auto& state = states[static_cast<std::size_t>(dynamic[static_cast<std::size_t>(k)])];
        const auto& name = state.part.empty() ? state.name : state.part;
        const double share = weight[k] / weight.sum();
        const auto known =
            std::find_if(parts.begin(), parts.end(), [&](const auto& p) { return p.part == name; });
        if (known != parts.end())
            known->share += share;
        else
            parts.push_back({name, share});
    }
    std::stable_sort(parts.begin(), parts.end(),
                     [](const auto& a, const auto& b) { return a.share > b.share; });
    return parts;
}

} // namespace needleturn::sim
