/// Rodas5P (sim/rodas5p_step.h) with its step size controlled, for one run.
#pragma once

#include "sim/growth_watch.h"
#include "sim/recording.h"
#include "sim/rodas5p_step.h"
#include "sim/system.h"

#include <Eigen/Core>
#include <boost/numeric/odeint/stepper/stepper_categories.hpp>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::sim {

/// The run cannot go on: no step from `time` is short enough for the equation of `state`.
class IntegrationFailure : public std::runtime_error {
  public:
    IntegrationFailure(double at, const std::string& state_name, const std::string& why)
        : std::runtime_error("integration failed at t = " + std::to_string(at) + " s in " + state_name + ": "
                             + why),
          time{at},
          state{state_name} {}
    double time;
    std::string state;
};

/// Steps a System adaptively with Rodas5P. It models Boost.Odeint's dense output stepper (state_type,
/// initialize, do_step, calc_state, current_time ...), so Odeint's integrate functions and iterators can
/// drive it.
template <class S> class Rodas5P {
  public:
    using state_type = Eigen::VectorXd;
    using deriv_type = state_type;
    using value_type = double;
    using time_type = double;
    using stepper_category = boost::numeric::odeint::dense_output_stepper_tag;

    explicit Rodas5P(const S& system, Tolerance tolerance = {})
        : tolerance_{tolerance}, step_{system}, watch_(system.model().states(), system.lu()) {
        if (!(tolerance.relative > 0))
            throw std::invalid_argument("the tolerance must be above 0");
    }

    /// Starts anew at (t, y): at the beginning and after every breakpoint. A step of `first_step` is tried
    /// first.
    void initialize(const state_type& y, double t, double first_step) {
        std::copy_n(y.data(), step_.size(), step_.y.data());
        std::copy_n(y.data(), step_.size(), step_.y_new.data());
        t_ = t_old_ = t;
        next_ = first_step;
        ++counts_.restarts;
    }

    /// Watches for growing motion (sim/growth_watch.h) from here on, on a piece of the drives on which no step may be longer than
    /// `on_piece`, s. Fixed steps and drivers of others want none; integrate does.
    void watch(double on_piece) {
        watched_ = true;
        watch_.begin(0, on_piece);
    }

    /// Makes one accepted step, at most to `limit`, as long as the error and the watch for growing motion
    /// (sim/growth_watch.h) allow; returns its ends.
    /// Throws IntegrationFailure when no step is small enough.
    std::pair<double, double> do_step(const S& system,
                                      double limit = std::numeric_limits<double>::infinity()) {
        if (t_ > t_old_)
            std::swap(step_.y, step_.y_new);
        t_old_ = t_;
        step_.linearise(system, t_);
        ++counts_.jacobians;
        ++counts_.rates; // they come with it
        const double longest =
            watched_ ? watch_.longest(step_.jacobian.data(), next_) : std::numeric_limits<double>::infinity();
        bool retry = false;
        for (;;) {
            const double left = limit - t_old_;
            const double h = rodas5p::length(std::min(next_, longest), left);
            // Two breakpoints may lie a rounding error apart: what leads to the limit is never too short.
            if (h < 1e-13 * std::max(1.0, std::abs(t_old_)) && h < left)
                throw failure(system);
            h_ = h;
            const double error = attempt(system, h);
            const bool taken = error <= 1;
            next_ = rodas5p::next_due(h, next_, error, taken, retry);
            if (taken) {
                ++counts_.steps;
                t_ = h == left ? limit : t_old_ + h;
                dense_known_ = false;
                return {t_old_, t_};
            }
            ++counts_.rejected;
            retry = true;
        }
    }

    /// State at a time within the last step, [n]. Dense output of order 4.
    void calc_state(double t, double* y) const {
        know_dense();
        const double s = (t - t_old_) / h_;
        for (std::size_t i = 0; i < step_.size(); ++i)
            y[i] = step_.interpolated(i, s, [](double value) { return value; });
    }
    void calc_state(double t, state_type& y) const {
        y.resize(static_cast<Eigen::Index>(step_.size()));
        calc_state(t, y.data());
    }

    /// States at the ends of the last step, [n]; valid until the next one.
    Eigen::Map<const state_type> current_state() const { return map(step_.y_new); }
    Eigen::Map<const state_type> previous_state() const { return map(step_.y); }
    double current_time() const { return t_; }
    double previous_time() const { return t_old_; }
    double current_time_step() const { return next_; }
    const Counts& counts() const { return counts_; } ///< since it was made

  private:
    Eigen::Map<const state_type> map(const std::vector<double>& y) const {
        return {y.data(), static_cast<Eigen::Index>(step_.size())};
    }

    /// One attempt of length h; returns the error in units of the tolerance, infinity if it broke down.
    double attempt(const S& system, double h) {
        ++counts_.factorisations;
        counts_.rates += rodas5p::stages - 1;
        const double squared = step_.attempt(system, t_old_, h);
        return std::isnan(squared) ? std::numeric_limits<double>::infinity()
                                   : std::sqrt(squared) / tolerance_.relative;
    }

    void know_dense() const {
        if (!dense_known_)
            step_.know_dense();
        dense_known_ = true;
    }

    /// Says which state allows no step from t_old_, and why. Not on the hot path.
    IntegrationFailure failure(const S& system) {
        step_.y_new = step_.y;
        const auto& lu = system.lu();
        const std::size_t n = step_.size();
        const auto in = [&](std::size_t state, const char* why) {
            return IntegrationFailure(t_old_, system.model().states()[state].name, why);
        };
        constexpr auto rate =
            "its rate of change is not a number; suspect a value out of the range of its equation";
        constexpr auto slope =
            "the derivative of its rate is not a number; suspect the root or power of a zero in "
            "its equation";
        for (std::size_t i = 0; i < n; ++i)
            if (!std::isfinite(step_.first_rate[i]))
                return in(i, rate);
        for (const auto& [entry, at] : lu.positions())
            if (!std::isfinite(step_.jacobian[at])
                || !std::isfinite(step_.jacobian[lu.entries() + entry.first]))
                return in(entry.first, slope);
        if (const auto broken = step_.first_broken(system, t_old_, h_); broken < n)
            return in(broken, rate);
        std::size_t worst = 0;
        for (std::size_t i = 1; i < n; ++i)
            if (step_.weighed_error(i) > step_.weighed_error(worst))
                worst = i;
        return in(worst,
                  "its error stays above the tolerance however short the step; suspect a part that is far "
                  "too stiff or light, or a value that runs away");
    }

    Tolerance tolerance_;
    mutable Rodas5PStep<S> step_; ///< dense output is worked out when asked for
    mutable bool dense_known_ = false;
    GrowthWatch<double> watch_;
    bool watched_ = false;
    double t_ = 0, t_old_ = 0, h_ = 0, next_ = 0; ///< ends and length of the last step, length of the next
    Counts counts_;
};

} // namespace needleturn::sim
