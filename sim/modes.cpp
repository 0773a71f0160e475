#include "sim/modes.h"

#include <Eigen/Dense>
#include <Eigen/Eigenvalues>
#include <Eigen/SparseLU>

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <limits>
#include <numbers>
#include <stdexcept>
#include <type_traits>

namespace needleturn::sim {

namespace {

Mode mode_of(const std::complex<double>& value) {
    return {value, value.imag() / (2 * std::numbers::pi),
            std::abs(value) > 0 ? -value.real() / std::abs(value) : 0};
}

/// Of conjugate pairs one, by growth.
template <class Values> std::vector<Mode> sorted(const Values& eigenvalues) {
    std::vector<Mode> modes;
    for (const std::complex<double>& value : eigenvalues)
        if (value.imag() >= 0)
            modes.push_back(mode_of(value));
    std::sort(modes.begin(), modes.end(),
              [](const Mode& a, const Mode& b) { return a.eigenvalue.real() > b.eigenvalue.real(); });
    return modes;
}

void require_finite(const Eigen::SparseMatrix<double>& jacobian) {
    const Eigen::Map<const Eigen::VectorXd> values(jacobian.valuePtr(), jacobian.nonZeros());
    if (!values.allFinite())
        throw std::domain_error("no modes: a derivative of the equations is not a number at this state");
}

using Complex = std::complex<double>;

/// An eigenvalue of an operator in its Arnoldi subspace, and how far it may be off.
struct Ritz {
    Complex value;
    double residual;
};

/// Arnoldi's method with at most `most` vectors for the operator `apply` on vectors of n numbers.
template <class Scalar, class Apply>
std::vector<Ritz> arnoldi(Eigen::Index n, Eigen::Index most, const Apply& apply) {
    using Eigen::Index;
    using Matrix = Eigen::Matrix<Scalar, Eigen::Dynamic, Eigen::Dynamic>;
    using Vector = Eigen::Matrix<Scalar, Eigen::Dynamic, 1>;
    const Index m = std::min(most, n - 1);
    Matrix basis(n, m + 1), projected = Matrix::Zero(m + 1, m);
    // A start that is the same in every run and that no mode is at right angles to.
    for (Index i = 0; i < n; ++i)
        basis(i, 0) = 1 + 0.5 * std::sin(static_cast<double>(i * i + 1));
    basis.col(0).normalize();
    Index found = m;
    for (Index k = 0; k < m; ++k) {
        Vector next = apply(Vector(basis.col(k)));
        for (int pass = 0; pass < 2; ++pass) { // once is not enough to be at right angles to rounding
            const Vector along = basis.leftCols(k + 1).adjoint() * next;
            next -= basis.leftCols(k + 1) * along;
            projected.col(k).head(k + 1) += along;
        }
        projected(k + 1, k) = next.norm();
        if (!(std::abs(projected(k + 1, k)) > 1e-14)) {
            found = k + 1;
            break;
        }
        basis.col(k + 1) = next / projected(k + 1, k);
    }
    using Solver = std::conditional_t<std::is_same_v<Scalar, double>, Eigen::EigenSolver<Matrix>,
                                      Eigen::ComplexEigenSolver<Matrix>>;
    const Solver small(Matrix(projected.topLeftCorner(found, found)));
    const auto vectors = small.eigenvectors().eval(); // which the real solver puts together at each call
    std::vector<Ritz> ritz;
    for (Index i = 0; i < found; ++i)
        ritz.push_back(
            {small.eigenvalues()[i], std::abs(projected(found, found - 1)) * std::abs(vectors(found - 1, i))
                                         / vectors.col(i).norm()});
    return ritz;
}

constexpr double converged = 1e-7; ///< of an eigenvalue

/// Eigenvalues found in the Cayley transform of length h, s.
std::vector<Complex> by_cayley_transform(const Eigen::SparseMatrix<double>& jacobian, double h) {
    const auto n = jacobian.rows();
    Eigen::SparseMatrix<double> identity(n, n);
    identity.setIdentity();
    const Eigen::SparseMatrix<double> left = identity - 0.5 * h * jacobian,
                                      right = identity + 0.5 * h * jacobian;
    const Eigen::SparseLU<Eigen::SparseMatrix<double>> lu(left);
    if (lu.info() != Eigen::Success)
        return {};
    std::vector<Complex> values;
    const auto apply = [&](const Eigen::VectorXd& v) -> Eigen::VectorXd { return lu.solve(right * v); };
    for (const auto& [mu, residual] : arnoldi<double>(n, 80, apply)) {
        const auto value = 2.0 / h * (mu - 1.0) / (mu + 1.0);
        if (residual * 4 / h / std::norm(mu + 1.0) < converged * std::abs(value))
            values.push_back(value);
    }
    return values;
}

/// J - c I.
Eigen::SparseMatrix<Complex> shifted(const Eigen::SparseMatrix<double>& jacobian, Complex c) {
    Eigen::SparseMatrix<Complex> identity(jacobian.rows(), jacobian.rows());
    identity.setIdentity();
    return jacobian.cast<Complex>() - c * identity;
}

/// Eigenvalues found about i omega, and the radius within which all of them have converged.
struct Disc {
    std::vector<Complex> values;
    double radius = 0;
};
Disc around(const Eigen::SparseMatrix<double>& jacobian, double omega) {
    const auto n = jacobian.rows();
    const Complex centre(0, omega);
    const Eigen::SparseLU<Eigen::SparseMatrix<Complex>> lu(shifted(jacobian, centre));
    Disc disc;
    if (lu.info() != Eigen::Success)
        return disc;
    const auto apply = [&](const Eigen::VectorXcd& v) -> Eigen::VectorXcd { return lu.solve(v); };
    double unsure = std::numeric_limits<double>::infinity(); // distance of the nearest that has not converged
    std::vector<Complex> near;
    for (const auto& [mu, residual] : arnoldi<Complex>(n, 40, apply)) {
        const Complex away = 1.0 / mu;
        if (residual < converged * std::abs(mu))
            near.push_back(away);
        else
            unsure = std::min(unsure, std::abs(away));
    }
    for (const auto& away : near)
        if (std::abs(away) < unsure) {
            disc.values.push_back(centre + away);
            disc.radius = std::max(disc.radius, std::abs(away));
        }
    return disc;
}

/// Adds what is not yet known.
void add(std::vector<Complex>& known, const std::vector<Complex>& values) {
    constexpr double same = 1e-5;
    for (const auto& found : values) {
        const Complex value(found.real(), std::abs(found.imag()));
        if (std::ranges::none_of(
                known, [&](const Complex& k) { return std::abs(k - value) < same * std::abs(value); }))
            known.push_back(value);
    }
}

} // namespace

std::vector<Mode> find_modes(const Instant& instant, const Eigen::VectorXd& y) {
    const auto jacobian = instant.motion(y).jacobian;
    require_finite(jacobian);
    return sorted(Eigen::VectorXcd(Eigen::MatrixXd(jacobian).eigenvalues()));
}

std::vector<Mode> leading_modes(const Eigen::SparseMatrix<double>& jacobian) {
    constexpr double fastest_wave = 2 * std::numbers::pi * 250; // rad/s
    require_finite(jacobian);
    if (jacobian.rows() <= all_at_once)
        return sorted(Eigen::VectorXcd(Eigen::MatrixXd(jacobian).eigenvalues()));
    std::vector<Complex> values;
    for (const double h : {0.3, 0.05, 0.01, 0.002})
        add(values, by_cayley_transform(jacobian, h));
    // A disc begins within the one before, so that the axis lies well inside them.
    constexpr double overlap = 1.4;
    for (double omega = 0; omega < fastest_wave;) {
        const auto disc = around(jacobian, omega);
        if (!(disc.radius > 0))
            break;
        add(values, disc.values);
        omega += overlap * disc.radius;
    }
    if (values.empty())
        return sorted(Eigen::VectorXcd(Eigen::MatrixXd(jacobian).eigenvalues()));
    return sorted(values);
}

std::vector<Mode> leading_modes(const Instant& instant, const Eigen::VectorXd& y) {
    return leading_modes(instant.motion(y).jacobian);
}

const Mode& worst_of(const std::vector<Mode>& modes) {
    const auto growing = std::ranges::find_if(modes, &Mode::grows);
    if (growing != modes.end())
        return *growing;
    const auto oscillating = std::ranges::find_if(modes, &Mode::oscillates);
    return oscillating != modes.end() ? *oscillating : modes.front();
}

std::vector<Participation> participation(const Instant& instant, const Eigen::VectorXd& y, const Mode& mode) {
    const auto [jacobian, moving] = instant.motion(y);
    const Eigen::Index n = jacobian.rows();
    // Beside the eigenvalue, not on it: there the matrix has no inverse.
    Eigen::SparseLU<Eigen::SparseMatrix<Complex>> lu(shifted(jacobian, mode.eigenvalue * (1 + 1e-9) + 1e-12));
    if (lu.info() != Eigen::Success)
        throw std::domain_error("no eigenvector: the Jacobian beside its eigenvalue has no inverse");
    Eigen::VectorXcd right = Eigen::VectorXcd::Ones(n), left = right;
    constexpr int iterations = 3; // each multiplies the eigenvector by 1e9 over the distance of the next one
    for (int i = 0; i < iterations; ++i) {
        right = lu.solve(right).eval();
        right.normalize();
        left = lu.transpose().solve(left).eval();
        left.normalize();
    }
    const Eigen::VectorXd weight = left.cwiseProduct(right).cwiseAbs();

    const auto& states = instant.states();
    std::vector<Participation> parts;
    for (Eigen::Index k = 0; k < n; ++k) {
        const auto& state = states[static_cast<std::size_t>(moving[static_cast<std::size_t>(k)])];
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
