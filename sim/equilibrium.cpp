#include "sim/equilibrium.h"

#include <Eigen/Dense>
#include <Eigen/SparseCore>
#include <Eigen/SparseLU>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace needleturn::sim {

namespace {

using Sparse = Eigen::SparseMatrix<double>;

/// 1 / (|A| |A^-1|) in the 1-norm, from the factors of A: an estimate, seldom more than three times too large (N. J.
/// Higham, ACM Trans. Math. Softw. 14:381, 1988). 0 where it is no number.
double reciprocal_condition(const Sparse& a, Eigen::SparseLU<Sparse>& lu) {
    double norm = 0;
    for (Eigen::Index column = 0; column < a.outerSize(); ++column)
        norm = std::max(norm, a.col(column).cwiseAbs().sum());
    const auto n = a.rows();
    Eigen::VectorXd x = Eigen::VectorXd::Constant(n, 1.0 / static_cast<double>(n));
    double inverse_norm = 0;
    constexpr int rounds = 5;
    for (int round = 0; round < rounds; ++round) {
        const Eigen::VectorXd solved = lu.solve(x);
        inverse_norm = std::max(inverse_norm, solved.lpNorm<1>());
        const Eigen::VectorXd signs = solved.unaryExpr([](double v) { return v < 0 ? -1.0 : 1.0; });
        const Eigen::VectorXd slope = lu.transpose().solve(signs);
        Eigen::Index steepest = 0;
        const double most = slope.cwiseAbs().maxCoeff(&steepest);
        if (!std::isfinite(most) || most <= slope.dot(x))
            break;
        x.setZero();
        x[steepest] = 1;
    }
    const double condition = norm * inverse_norm;
    return std::isfinite(condition) && condition > 0 ? 1 / condition : 0;
}

/// The search for a steady state, in scaled unknowns: each dynamic state in units of its typical size.
class EquilibriumSearch {
  public:
    EquilibriumSearch(const Instant& instant, Eigen::VectorXd start)
        : instant_{instant},
          dynamic_{instant.dynamic_states()},
          start_{std::move(start)},
          typical_(static_cast<Eigen::Index>(dynamic_.size())),
          rate_(start_.size()) {
        for (Eigen::Index i = 0; i < typical_.size(); ++i)
            typical_[i] = quantity(i).typical;
    }

    Eigen::VectorXd find() {
        // Water shut in may rest at any pressure: the motion has to choose, not a tangent that is next to singular. Stations have
        // 1e-4 here and 1e-8 at a trickle; where only a leak or what smooth laws let through settles the outlet, 1e-11 and less.
        // Such a tangent is asked where the motion alone leads nowhere.
        for (const double condition : {1e-10, 1e-14}) {
            least_condition_ = condition;
            if (const auto found = newton(start_))
                return *found;
            if (const auto found = continuation())
                return *found;
        }
        throw NoEquilibrium("no steady state found at t = " + std::to_string(instant_.time())
                            + " s; the rate of " + quantity(restless_).name + " does not vanish");
    }

  private:
    using Vector = Eigen::VectorXd;

    const Quantity& quantity(Eigen::Index i) const {
        return instant_.states()[static_cast<std::size_t>(dynamic_[static_cast<std::size_t>(i)])];
    }

    /// Rates at y, in typical sizes per second.
    Vector rates(const Vector& y) {
        instant_.rates(y, rate_);
        return rate_(dynamic_).cwiseQuotient(typical_);
    }

    Vector moved(const Vector& y, const Vector& move) const {
        Vector next = y;
        next(dynamic_) += move.cwiseProduct(typical_);
        return next;
    }

    /// What lies below the lowest may look like rest and is none.
    bool means_something(const Vector& y) const {
        return std::ranges::all_of(dynamic_, [&](Eigen::Index at) {
            return !(y[at] < instant_.states()[static_cast<std::size_t>(at)].lowest);
        });
    }

    /// Largest part of a move, relative to the size of its state.
    double length(const Vector& y, const Vector& move) const {
        const Vector sizes = (y(dynamic_).cwiseQuotient(typical_)).cwiseAbs().cwiseMax(1.0);
        return move.cwiseQuotient(sizes).cwiseAbs().maxCoeff();
    }

    static Vector largest_of_rows(const Sparse& matrix) {
        Vector largest = Vector::Zero(matrix.rows());
        for (Eigen::Index column = 0; column < matrix.outerSize(); ++column)
            for (Sparse::InnerIterator entry(matrix, column); entry; ++entry)
                largest[entry.row()] = std::max(largest[entry.row()], std::abs(entry.value()));
        return largest;
    }

    /// Newton's method with damping by the natural monotonicity test: a step is good if the next correction,
    /// by the same factorisation, is shorter. Unlike a test of the rates it does not care that pilots answer
    /// in microseconds and pipes in seconds. P. Deuflhard, "Newton Methods for Nonlinear Problems" (2004),
    /// section 3.2.
    std::optional<Vector> newton(Vector y) {
        Vector f = rates(y);
        double damping = 1;
        for (int iterations = 0; iterations < 60 && f.allFinite(); ++iterations) {
            Sparse matrix = instant_.scaled_jacobian(y);
            const Vector fastest = largest_of_rows(matrix); // 1/s
            if (!(fastest.minCoeff() > 0) || !fastest.allFinite())
                return {};
            matrix = fastest.cwiseInverse().asDiagonal() * matrix;
            Eigen::SparseLU<Sparse> lu(matrix);
            if (lu.info() != Eigen::Success || !(reciprocal_condition(matrix, lu) > least_condition_))
                return {};
            const auto correction = [&](const Vector& of) -> Vector {
                return -lu.solve(of.cwiseQuotient(fastest));
            };
            const Vector move = correction(f);
            const double distance = length(y, move);
            if (!std::isfinite(distance))
                return {};
            damping = std::min({1.0, 4 * damping, farthest / distance});
            for (;; damping *= 0.5) {
                if (damping < 1e-5)
                    return {};
                const Vector next = moved(y, damping * move);
                const Vector f_next = rates(next);
                const double remaining = f_next.allFinite() ? length(y, correction(f_next)) : never;
                // At the end rounding, not the equations, makes the corrections: no better answer exists.
                const bool at_rounding = damping == 1 && distance < 1e-7 && remaining > 0.5 * distance;
                if (distance < 1e-12 || at_rounding)
                    return means_something(y) ? std::optional(y) : std::nullopt;
                if (!(remaining <= (1 - 0.25 * damping) * distance))
                    continue;
                y = next;
                f = f_next;
                break;
            }
        }
        return {};
    }

    /// Pseudo-transient continuation (C. T. Kelley and D. E. Keyes, SIAM J. Numer. Anal. 35:508, 1998):
    /// implicit Euler steps of length tau that grows as the rates fall, until Newton's method takes over.
    std::optional<Vector> continuation() {
        Vector y = start_, f = rates(y);
        double tau = 1e-5,
               next_try = 1e-3; // s: the first is shorter than the fastest stem or water column answers
        for (int steps = 0; steps < 1000 && tau > 1e-14; ++steps) {
            Sparse identity(typical_.size(), typical_.size());
            identity.setIdentity();
            const Sparse matrix = identity / tau - instant_.scaled_jacobian(y);
            const Eigen::SparseLU<Sparse> lu(matrix);
            const bool solved = lu.info() == Eigen::Success;
            const Vector move = solved ? Vector(lu.solve(f)) : Vector::Constant(f.size(), never);
            const Vector next = moved(y, move), f_next = rates(next);
            // A longer move, or one into numbers that are none, trusts the tangent too far.
            if (!f_next.allFinite() || !(length(y, move) < farthest)) {
                tau *= 0.2;
                continue;
            }
            // Where valves are shut, the pressure between them is whatever it was: the Jacobian is singular, Newton's
            // method has no answer, and standing still for a long time is all that can be asked.
            // The rates themselves never get below their rounding; the move has that of stiff states divided out.
            constexpr double still = 1e-9, long_time = 1e3;
            const bool stands_still = tau > long_time && length(y, move) < still;
            tau = std::min(1.2 * tau * std::clamp(f.norm() / f_next.norm(), 0.5, 5.0), 1e12);
            y = next;
            f = f_next;
            if (stands_still && means_something(y))
                return y;
            if (tau > next_try) {
                if (const auto found = newton(y))
                    return *found;
                next_try = 10 * tau;
            }
        }
        f.cwiseAbs().maxCoeff(&restless_);
        return {};
    }

    static constexpr double farthest = 3; ///< longest move at once, in sizes of the state that moves most
    static constexpr double never = std::numeric_limits<double>::infinity();

    const Instant& instant_;
    std::vector<Eigen::Index> dynamic_;
    Vector start_, typical_, rate_;
    double least_condition_ = 0; ///< of a tangent that is trusted
    Eigen::Index restless_ = 0;  ///< what moves most where continuation has ended
};

} // namespace

Eigen::VectorXd find_equilibrium(const Instant& instant, Eigen::VectorXd y) {
    return EquilibriumSearch(instant, std::move(y)).find();
}

} // namespace needleturn::sim
