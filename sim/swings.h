/// The swings of a sampled signal: what hunting is judged by (sim/hunting.h says what a turning point and a swing are).
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace needleturn::sim {

/// A value at a time: a turning point, or the swing at one.
struct Mark {
    double time = 0; ///< in samples from the start of the window
    double value = 0;
};

/// Five swings, with the two extremes that bound them, are three whole cycles. Fewer come from an overshoot.
inline constexpr std::size_t least_swings_of_oscillation = 5;

/// Of at least one value; of an even number the mean of the two in the middle.
double median(std::vector<double> values);

/// The signal less the least-squares line through its later half.
std::vector<double> without_drift(std::span<const double> signal);

/// The extremes, maxima and minima in turn, from which the signal comes back by the least swing of their
/// place. The ends of the window are none.
std::vector<Mark> turning_points(std::span<const double> signal, std::span<const double> least);

/// The turning points of a signal without drift by the rules of sim/hunting.h, ripple passed over; `threshold` > 0 in the
/// signal's unit.
std::vector<Mark> turning_points(std::span<const double> rest, double threshold);

/// The swing at each turning point but the first and the last.
std::vector<Mark> swings_between(std::span<const Mark> turns);

/// How many of them reach the threshold.
std::size_t count_from(std::span<const Mark> swings, double threshold);

} // namespace needleturn::sim
