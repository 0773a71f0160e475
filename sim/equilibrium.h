/// Steady states: where every rate vanishes while the drives stand still.
#pragma once

#include "sim/system.h"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <stdexcept>
#include <string>
#include <vector>

namespace needleturn::sim {

/// Indices of the states that are solved for at equilibrium and take part in modes.
template <class S> std::vector<Eigen::Index> dynamic_states(const S& system) {
    std::vector<Eigen::Index> dynamic;
    const auto& states = system.model().states();
    for (std::size_t i = 0; i < states.size(); ++i)
        if (states[i].role == Role::dynamic)
            dynamic.push_back(static_cast<Eigen::Index>(i));
    return dynamic;
}

/// The Jacobian of the dynamic states, each in units of its typical size, so that pivots and eigenvectors
/// compare like with like.
template <class S> Eigen::MatrixXd scaled_jacobian(const S& system, double t, const Eigen::VectorXd& y) {
    const auto dynamic = dynamic_states(system);
    const auto& states = system.model().states();
    Eigen::MatrixXd j = system.dense_jacobian(t, y.data())(dynamic, dynamic);
    for (Eigen::Index r = 0; r < j.rows(); ++r)
        for (Eigen::Index c = 0; c < j.cols(); ++c)
            j(r, c) *= states[static_cast<std::size_t>(dynamic[static_cast<std::size_t>(c)])].typical
                       / states[static_cast<std::size_t>(dynamic[static_cast<std::size_t>(r)])].typical;
    return j;
}

class NoEquilibrium : public std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// Solves f(y, d(t)) = 0 for the dynamic states, starting from `y`; states of role `amount` and `meter` keep
/// their values. Works for unstable equilibria too: it looks for zero rates, it does not wait for the motion
/// to die down.
///
/// Method: pseudo-transient continuation (Kelley and Keyes, SIAM J. Numer. Anal. 35:508, 1998): implicit
/// Euler steps of length tau, tau growing as the rates fall, until Newton's method converges from there.
/// Throws NoEquilibrium, naming the state whose rate is largest, when that does not converge.
template <class S> Eigen::VectorXd find_equilibrium(const S& system, double t, Eigen::VectorXd y) {
    const auto dynamic = dynamic_states(system);
    const auto& states = system.model().states();
    Eigen::VectorXd typical(static_cast<Eigen::Index>(dynamic.size()));
    for (Eigen::Index i = 0; i < typical.size(); ++i)
        typical[i] = states[static_cast<std::size_t>(dynamic[static_cast<std::size_t>(i)])].typical;

    Eigen::VectorXd rate(y.size());
    const auto scaled_rate = [&](const Eigen::VectorXd& at) -> Eigen::VectorXd {
        system.rates(t, at.data(), rate.data());
        return rate(dynamic).cwiseQuotient(typical);
    };

    const auto newton_move = [&](const Eigen::VectorXd& at) -> Eigen::VectorXd {
        return scaled_jacobian(system, t, at).partialPivLu().solve(-scaled_rate(at));
    };
    // Newton's method from `y` for as long as its moves shrink; true at rounding level, else `y` is as
    // before.
    const auto newton_ends = [&](Eigen::VectorXd& from) {
        Eigen::VectorXd at = from;
        double last = std::numeric_limits<double>::infinity();
        for (;;) {
            const Eigen::VectorXd move = newton_move(at);
            const double size =
                move.allFinite() ? move.cwiseAbs().maxCoeff() : std::numeric_limits<double>::infinity();
            constexpr double arrived =
                1e-9; // of a typical size; beyond that, moves shrink until rounding stops them
            if (!(size < 0.7 * last) || (last == std::numeric_limits<double>::infinity() && size > 1)) {
                if (last < arrived)
                    from = at;
                return last < arrived;
            }
            at(dynamic) += move.cwiseProduct(typical);
            last = size;
        }
    };

    double tau = 1e-5; // s: shorter than the fastest water column or stem answers
    Eigen::VectorXd f = scaled_rate(y);
    const Eigen::MatrixXd one = Eigen::MatrixXd::Identity(f.size(), f.size());
    constexpr int most_tries = 2000;
    for (int tries = 0; tries < most_tries && tau > 1e-14; ++tries) {
        if (newton_ends(y))
            return y;
        const Eigen::VectorXd move = (one / tau - scaled_jacobian(system, t, y)).partialPivLu().solve(f);
        Eigen::VectorXd next = y;
        next(dynamic) += move.cwiseProduct(typical);
        const Eigen::VectorXd f_next = scaled_rate(next);
        // A move of more than a few typical sizes, or into numbers that are none, trusts the tangent too far.
        constexpr double farthest = 3;
        if (!f_next.allFinite() || !move.allFinite() || move.cwiseAbs().maxCoeff() > farthest
            || f_next.norm() > 10 * f.norm()) {
            tau *= 0.2;
            continue;
        }
        // Where the valves are shut, the pressure between them is whatever it was: the Jacobian is singular,
        // Newton's method has no answer, and standing still is all that can be asked.
        constexpr double still = 1e-9, long_time = 1e3;
        const bool stands_still =
            tau > long_time && move.cwiseAbs().maxCoeff() < still && f_next.norm() < still;
        tau = std::min(tau * 1.2 * std::clamp(f.norm() / f_next.norm(), 0.5, 5.0), 1e12);
        y = next;
        f = f_next;
        if (stands_still)
            return y;
    }
    Eigen::Index worst = 0;
    f.cwiseAbs().maxCoeff(&worst);
    throw NoEquilibrium("no steady state found at t = " + std::to_string(t) + " s; the rate of "
                        + states[static_cast<std::size_t>(dynamic[static_cast<std::size_t>(worst)])].name
                        + " does not vanish");
}

} // namespace needleturn::sim
