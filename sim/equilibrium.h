/// Steady states: where every rate vanishes while the drives stand still.
#pragma once

#include "sim/instant.h"

#include <Eigen/Core>

#include <stdexcept>
#include <utility>

namespace needleturn::sim {

class NoEquilibrium : public std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// Solves f(y, d(t)) = 0 for the dynamic states, starting from `y`; states of role `held`, `amount` and `meter` keep
/// their values. Works for unstable equilibria too: it looks for zero rates, it does not wait for the motion
/// to die down. Where there are several it finds one near the start. Throws NoEquilibrium, naming the state whose
/// rate is largest for its size.
Eigen::VectorXd find_equilibrium(const Instant& instant, Eigen::VectorXd y);

/// The same of a system at t, with the drives of its present pieces.
template <class S> Eigen::VectorXd find_equilibrium(const S& system, double t, Eigen::VectorXd y) {
    return find_equilibrium(Instant(system, t), std::move(y));
}

} // namespace needleturn::sim
