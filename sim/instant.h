/// A system at one instant, as steady states and modes see it: rates and Jacobian as functions of the states, whatever the
/// model. What works on it is compiled once and not for every model.
#pragma once

#include "sim/system.h"

#include <Eigen/Core>
#include <Eigen/SparseCore>

#include <cstddef>
#include <functional>
#include <vector>

namespace needleturn::sim {

/// The Jacobian of small motions, each state in units of its typical size: of the dynamic states and of the held ones. A held
/// state whose rate is that of a dynamic one and of nothing else moves with it: its column is added to that of the other, and it
/// is none of `states`.
struct Motion {
    Eigen::SparseMatrix<double> jacobian;
    std::vector<Eigen::Index> states; ///< indices, in the order of its rows
};

/// `entries` in the layout of `lu`.
Motion motion_of(const std::vector<Quantity>& states, const SparseLu& lu, const double* entries);

class Instant {
  public:
    /// The drives are those of the system's present pieces: enter the right ones first (System::enter). The system must
    /// outlive this.
    template <class S> Instant(const S& system, double t)
        : time_{t},
          states_{&system.model().states()},
          lu_{&system.lu()},
          rates_{[&system, t](const double* y, double* rates) { system.rates(t, y, rates); }},
          jacobian_{[&system, t](const double* y, double* entries) { system.jacobian(t, y, entries); }} {}

    double time() const { return time_; }
    const std::vector<Quantity>& states() const { return *states_; }

    /// Indices of the states that are solved for at equilibrium.
    std::vector<Eigen::Index> dynamic_states() const;

    /// d/dt of all states as stored, [n].
    void rates(const Eigen::VectorXd& y, Eigen::VectorXd& rates) const { rates_(y.data(), rates.data()); }

    /// The Jacobian of the dynamic states, each in units of its typical size, so that pivots and eigenvectors compare
    /// like with like.
    Eigen::SparseMatrix<double> scaled_jacobian(const Eigen::VectorXd& y) const;

    /// What modes are of.
    Motion motion(const Eigen::VectorXd& y) const;

  private:
    std::vector<double> entries(const Eigen::VectorXd& y) const;

    double time_;
    const std::vector<Quantity>* states_;
    const SparseLu* lu_;
    std::function<void(const double*, double*)> rates_, jacobian_;
};

} // namespace needleturn::sim
