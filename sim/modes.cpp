#include "sim/modes.h"

#include <Eigen/Dense>
#include <Eigen/Eigenvalues>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <stdexcept>

namespace needleturn::sim {

std::vector<Mode> find_modes(const Instant& instant, const Eigen::VectorXd& y) {
    const Eigen::MatrixXd jacobian = instant.scaled_jacobian(y);
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

const Mode& worst_of(const std::vector<Mode>& modes) {
    const auto growing = std::ranges::find_if(modes, &Mode::grows);
    if (growing != modes.end())
        return *growing;
    const auto oscillating = std::ranges::find_if(modes, &Mode::oscillates);
    return oscillating != modes.end() ? *oscillating : modes.front();
}

std::vector<Participation> participation(const Instant& instant, const Eigen::VectorXd& y, const Mode& mode) {
    const Eigen::MatrixXcd jacobian =
        Eigen::MatrixXd(instant.scaled_jacobian(y)).cast<std::complex<double>>();
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

    const auto dynamic = instant.dynamic_states();
    const auto& states = instant.states();
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
