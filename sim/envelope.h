/// Envelope: the highest and lowest that some values reach during a run. It only observes.
#pragma once

#include <Eigen/Core>

#include <algorithm>
#include <cstddef>
#include <utility>
#include <vector>

namespace needleturn::sim {

/// Give it the accepted steps of integrate (call it with the stepper). It looks at the end of each step and, by the
/// dense output, at three instants within: between accepted points alone a wave front's crest may pass unseen.
template <class S> class Envelope {
  public:
    /// `watched` are indices of states or drives; `y` the state at `begin`, s.
    Envelope(const S& system, std::vector<std::size_t> watched, double begin, const Eigen::VectorXd& y)
        : system_{&system}, watched_{std::move(watched)}, state_(y) {
        values_.resize(system.model().states().size() + system.model().drives().size());
        system.values(begin, y.data(), values_.data());
        for (const auto i : watched_) {
            lowest_.push_back(values_[i]);
            highest_.push_back(values_[i]);
        }
    }

    template <class Stepper> void operator()(const Stepper& stepper) {
        constexpr int looks = 4;
        const double begin = stepper.previous_time(), end = stepper.current_time();
        for (int k = 1; k <= looks; ++k) {
            const double t = k == looks ? end : begin + (end - begin) * k / looks;
            stepper.calc_state(t, state_.data());
            system_->values(t, state_.data(), values_.data());
            for (std::size_t i = 0; i < watched_.size(); ++i) {
                lowest_[i] = std::min(lowest_[i], values_[watched_[i]]);
                highest_[i] = std::max(highest_[i], values_[watched_[i]]);
            }
        }
    }

    /// In the order of `watched`.
    const std::vector<double>& lowest() const { return lowest_; }
    const std::vector<double>& highest() const { return highest_; }

  private:
    const S* system_;
    std::vector<std::size_t> watched_;
    std::vector<double> lowest_, highest_;
    Eigen::VectorXd state_;
    std::vector<double> values_;
};

} // namespace needleturn::sim
