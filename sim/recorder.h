/// Recorder: samples states, drives and signals of a run on a uniform grid. It only observes.
#pragma once

#include "sim/recording.h"

#include <Eigen/Core>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::sim {

/// Give it the accepted steps of integrate (call it with the stepper); samples come from the stepper's dense output, so
/// the steps do not depend on the grid. At a jump of a drive the sample on the corner shows the value before it.
template <class S> class Recorder {
  public:
    /// Samples at 0, `interval`, 2 `interval`, ... up to `end` (s); the state at 0 is `y`. Keeps the quantities of
    /// the model that are named in `wanted`, or all whose samples are to be kept if none are; throws
    /// std::out_of_range for a name the model has not.
    Recorder(const S& system, double interval, double end, const Eigen::VectorXd& y,
             const std::vector<std::string>& wanted = {})
        : system_{&system}, interval_{interval} {
        constexpr double rounding =
            1e-9; // of an interval: the last sample must not be lost to a rounding error
        const auto samples = static_cast<std::size_t>(std::floor(end / interval + rounding)) + 1;
        const auto& model = system.model();
        auto all = model.states();
        for (const auto* more : {&model.drives(), &model.signals()})
            all.insert(all.end(), more->begin(), more->end());
        keep(all, wanted);
        recording_.time.reserve(samples);
        recording_.values.resize(recording_.quantities.size());
        for (auto& values : recording_.values)
            values.reserve(samples);
        state_.resize(y.size());
        values_.resize(all.size());
        sample(0, y.data());
    }

    /// Samples what falls into the stepper's last step.
    template <class Stepper> void operator()(const Stepper& stepper) {
        constexpr double rounding = 1e-9;
        for (;;) {
            const double t = static_cast<double>(recording_.time.size()) * interval_;
            if (t > stepper.current_time() + rounding * interval_)
                return;
            const double within = std::min(t, stepper.current_time());
            stepper.calc_state(within, state_.data());
            sample(within, state_.data());
        }
    }

    const Recording& recording() const& { return recording_; }
    Recording&& recording() && { return std::move(recording_); }

  private:
    void keep(const std::vector<Quantity>& all, const std::vector<std::string>& wanted) {
        for (std::size_t i = 0; i < all.size(); ++i)
            if (wanted.empty() ? all[i].kept == Kept::samples
                               : std::find(wanted.begin(), wanted.end(), all[i].name) != wanted.end()) {
                kept_.push_back(i);
                recording_.quantities.push_back(all[i]);
            }
        for (const auto& name : wanted)
            if (!recording_.has(name))
                throw std::out_of_range("no signal is called " + name);
    }

    void sample(double t, const double* stored) {
        const auto& model = system_->model();
        const auto known = model.states().size() + model.drives().size();
        system_->values(t, stored, values_.data());
        model.observe(std::span(values_).first(known), std::span(values_).subspan(known));
        recording_.time.push_back(static_cast<double>(recording_.time.size()) * interval_);
        for (std::size_t i = 0; i < kept_.size(); ++i)
            recording_.values[i].push_back(values_[kept_[i]]);
    }

    const S* system_;
    double interval_;
    std::vector<std::size_t> kept_; ///< among the values and signals of the model
    Recording recording_;
    Eigen::VectorXd state_;
    std::vector<double> values_;
};

} // namespace needleturn::sim
