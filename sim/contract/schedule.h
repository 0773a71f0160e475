/// A known function of time, piecewise linear: what hands, pumps and consumers do during a run.
#pragma once

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

namespace needleturn {

/// s: times that are nearer to each other are one. Decimal fractions do not add up: 1.6 + 0.1 is more than 1.7.
inline constexpr double one_instant = 1e-9;

/// A straight piece of a schedule, value + slope (t - begin), or of several side by side.
template <class T> struct RampOf {
    T begin{}; ///< s
    T value{}; ///< at `begin`
    T slope{}; ///< per second
    T operator()(const T& t) const { return value + slope * (t - begin); }
};
using Ramp = RampOf<double>;

/// Constant until the first change, then ramps one after another. Every corner is a breakpoint of the run:
/// an adaptive stepper that does not stop there may step over a pulse without seeing it.
class Schedule {
  public:
    struct Change {
        double at = 0;   ///< s
        double to = 0;   ///< value reached
        double over = 0; ///< s, >= 0; 0 is a jump
    };

    Schedule() = default;
    explicit Schedule(double start) : start_{start} {}

    /// Adds a change after all earlier ones. Throws std::invalid_argument when it begins before the last one ended, by more than
    /// one_instant.
    void then(Change change) {
        if (!(change.over >= 0) || !std::isfinite(change.at) || !std::isfinite(change.to))
            throw std::invalid_argument("a change needs a finite time and value and a duration of 0 or more");
        const double free_from = changes_.empty() ? change.at : changes_.back().at + changes_.back().over;
        if (change.at < free_from - one_instant)
            throw std::invalid_argument("a change begins at " + std::to_string(change.at)
                                        + " s, before the one before it has ended");
        change.at = std::max(change.at, free_from);
        changes_.push_back(change);
    }

    double start() const { return start_; }
    const std::vector<Change>& changes() const { return changes_; }

    /// Where the slope or the value changes, ascending, without repeats.
    std::vector<double> breakpoints() const {
        std::vector<double> times;
        for (const auto& change : changes_)
            for (const double t : {change.at, change.at + change.over})
                if (times.empty() || t > times.back())
                    times.push_back(t);
        return times;
    }

    /// The straight piece that holds just after `t`.
    Ramp piece(double t) const {
        double before = start_;
        for (const auto& change : changes_) {
            if (t < change.at)
                break;
            if (t < change.at + change.over)
                return {change.at, before, (change.to - before) / change.over};
            before = change.to;
        }
        return {t, before, 0};
    }

    double operator()(double t) const { return piece(t)(t); }

  private:
    double start_ = 0;
    std::vector<Change> changes_;
};

} // namespace needleturn
