/// A model driven by schedules, ready to be stepped.
#pragma once

#include "sim/assembly.h"

#include <Eigen/Core>

#include <cstddef>
#include <set>
#include <stdexcept>
#include <utility>
#include <vector>

namespace needleturn::sim {

/// y' = f(y, d(t)) with states y (as stored) and drives d. The model must outlive the system.
template <Model M> class System : public Assembly<M> {
  public:
    /// One schedule per drive, in the order of the model's drives.
    System(const M& model, std::vector<Schedule> schedules)
        : Assembly<M>{model}, schedules_{std::move(schedules)} {
        if (schedules_.size() != model.drives().size())
            throw std::invalid_argument("one schedule per drive is needed");
        enter(0);
    }

    System(const M&&, std::vector<Schedule>) = delete; // a temporary model would not outlive it

    const std::vector<Schedule>& schedules() const { return schedules_; }

    /// Other schedules from now on: a hand has turned something. Enter the instant afterwards.
    void replace(std::vector<Schedule> schedules) {
        if (schedules.size() != schedules_.size())
            throw std::invalid_argument("one schedule per drive is needed");
        schedules_ = std::move(schedules);
    }

    /// Takes the straight pieces of all schedules that hold just after t. Valid until the next breakpoint.
    void enter(double t) {
        for (std::size_t j = 0; j < schedules_.size(); ++j)
            this->ramps()[j] = schedules_[j].piece(t);
    }

    /// Corners of all schedules strictly between begin and end, ascending.
    std::vector<double> breakpoints(double begin, double end) const {
        std::set<double> times;
        for (const auto& schedule : schedules_)
            for (const double t : schedule.breakpoints())
                if (t > begin && t < end)
                    times.insert(t);
        return {times.begin(), times.end()};
    }

    /// The Jacobian as a dense matrix, for analyses of a single instant.
    Eigen::MatrixXd dense_jacobian(double t, const double* stored) const {
        std::vector<double> matrix(this->lu().entries() + this->size());
        this->jacobian(t, stored, matrix.data());
        const auto n = static_cast<Eigen::Index>(this->size());
        Eigen::MatrixXd dense = Eigen::MatrixXd::Zero(n, n);
        for (const auto& [entry, at] : this->lu().positions())
            dense(static_cast<Eigen::Index>(entry.first), static_cast<Eigen::Index>(entry.second)) =
                matrix[at];
        return dense;
    }

  private:
    std::vector<Schedule> schedules_;
};

} // namespace needleturn::sim
