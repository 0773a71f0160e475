/// Recorder: samples states, drives and signals of a run on a uniform grid. It only observes.
#pragma once

#include "sim/recording.h"

#include <Eigen/Core>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <memory>
#include <span>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::sim {

/// Makes a place for the samples of so many signals; null: memory will do.
using StoreMaker = std::function<std::shared_ptr<SampleStore>(std::size_t signals)>;

/// Give it the accepted steps of integrate (call it with the stepper); samples come from the stepper's dense output, so
/// the steps do not depend on the grid. At a jump of a drive the sample on the corner shows the value before it.
template <class S> class Recorder {
  public:
    /// Samples at 0, `interval`, 2 `interval`, ... up to `end` (s); the state at 0 is `y`. Keeps the quantities of
    /// the model that are named in `wanted`, or all whose samples are to be kept if none are; throws
    /// std::out_of_range for a name the model has not. `store`, asked for with the number of signals, keeps the samples
    /// where they are to be out of memory.
    Recorder(const S& system, double interval, double end, const Eigen::VectorXd& y,
             const std::vector<std::string>& wanted = {}, const StoreMaker& store = {})
        : system_{&system}, interval_{interval} {
        constexpr double rounding =
            1e-9; // of an interval: the last sample must not be lost to a rounding error
        const auto samples = static_cast<std::size_t>(std::floor(end / interval + rounding)) + 1;
        const auto& model = system.model();
        auto all = model.states();
        for (const auto* more : {&model.drives(), &model.signals()})
            all.insert(all.end(), more->begin(), more->end());
        keep(all, wanted);
        if (store)
            store_ = store(recording_.quantities.size());
        const auto held = store_ ? SampleStore::samples_at_a_time : samples;
        recording_.time.reserve(store_ ? 0 : samples);
        recording_.values.resize(recording_.quantities.size());
        for (auto& values : recording_.values)
            values.reserve(held);
        state_.resize(y.size());
        values_.resize(all.size());
        sample(0, y.data());
    }

    /// Samples what falls into the stepper's last step.
    template <class Stepper> void operator()(const Stepper& stepper) {
        constexpr double rounding = 1e-9;
        for (;;) {
            const double t = static_cast<double>(count_) * interval_;
            if (t > stepper.current_time() + rounding * interval_)
                return;
            const double within = std::min(t, stepper.current_time());
            stepper.calc_state(within, state_.data());
            sample(within, state_.data());
        }
    }

    /// s, of the last sample.
    double last_time() const { return static_cast<double>(count_ - 1) * interval_; }

    Recording recording() && {
        if (store_) {
            store_->append(recording_.values);
            for (auto& values : recording_.values)
                values = {};
            recording_.store = std::move(store_);
            recording_.stored = count_;
            recording_.interval = interval_;
        }
        return std::move(recording_);
    }

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
        if (!store_)
            recording_.time.push_back(static_cast<double>(count_) * interval_);
        else if (count_ > 0 && count_ % SampleStore::samples_at_a_time == 0)
            put_away();
        ++count_;
        for (std::size_t i = 0; i < kept_.size(); ++i)
            recording_.values[i].push_back(values_[kept_[i]]);
    }

    void put_away() {
        store_->append(recording_.values);
        for (auto& values : recording_.values)
            values.clear();
    }

    const S* system_;
    double interval_;
    std::vector<std::size_t> kept_; ///< among the values and signals of the model
    Recording recording_;           ///< with a store: what is not in it yet
    std::shared_ptr<SampleStore> store_;
    std::size_t count_ = 0; ///< samples so far
    Eigen::VectorXd state_;
    std::vector<double> values_;
};

} // namespace needleturn::sim
