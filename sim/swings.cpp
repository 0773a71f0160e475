#include "sim/swings.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace needleturn::sim {
namespace {

/// Half, so that the decay of an oscillation is followed a little below the threshold, and so that a drift
/// that takes up to a half from every second stroke does not hide an oscillation of threshold size.
constexpr double least_swing_of_threshold = 0.5;
/// A swing below a third of what surrounds it is ripple. Irregular hunting seldom varies as much from cycle
/// to cycle, and where it does the verdict does not need its smallest cycles.
constexpr double ripple = 1.0 / 3;
/// Nothing comes before the first cycle of a window or after its last, so that ripple could not be told
/// there: the first and last eighth are each judged as a whole. A ring that loses two thirds in that time
/// ends a little earlier.
constexpr std::size_t edges = 8;
/// A parabola through three samples finds a smooth extreme between samples: with eight samples per cycle it
/// adds 4 % of the swing. Where it would add more the signal has a corner, and the sample stands.
constexpr double most_refinement = 0.05;

/// For each sample of a stretch the smaller of the greatest rise and the greatest fall from the start up to
/// there.
template <class Samples> std::vector<double> up_and_down(const Samples& samples) {
    double low = std::numeric_limits<double>::infinity();
    double high = -low;
    double rise = 0;
    double fall = 0;
    std::vector<double> both;
    both.reserve(samples.size());
    for (const double x : samples) {
        low = std::min(low, x);
        high = std::max(high, x);
        rise = std::max(rise, x - low);
        fall = std::max(fall, high - x);
        both.push_back(std::min(rise, fall));
    }
    return both;
}

/// How far the signal must come back from an extreme at each sample for it to be a turning point, ripple
/// excluded.
std::vector<double> least_swings(std::span<const double> signal, double least) {
    const std::vector<double> before = up_and_down(signal);
    const std::vector<double> after = up_and_down(std::vector<double>(signal.rbegin(), signal.rend()));
    const std::size_t size = signal.size();
    const std::size_t edge = size / edges;
    std::vector<double> swings(size);
    for (std::size_t i = 0; i < size; ++i)
        swings[i] = std::max(
            least, ripple * std::min(before[std::max(i, edge)], after[std::max(size - 1 - i, edge)]));
    return swings;
}

/// The extreme at sample i, between the samples if the signal is smooth there. `swing` > 0 is its scale.
Mark extreme(std::span<const double> signal, std::size_t i, double swing) {
    Mark mark{static_cast<double>(i), signal[i]};
    if (i == 0 || i + 1 == signal.size())
        return mark;
    const double slope = 0.5 * (signal[i + 1] - signal[i - 1]);
    const double curvature = signal[i + 1] - 2 * signal[i] + signal[i - 1];
    if (curvature == 0)
        return mark;
    const double rise = -0.5 * slope * slope / curvature;
    if (std::abs(rise) <= most_refinement * swing) {
        mark.time -= slope / curvature;
        mark.value += rise;
    }
    return mark;
}

} // namespace

double median(std::vector<double> values) {
    const auto half = values.size() / 2;
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(half);
    std::nth_element(values.begin(), middle, values.end());
    if (values.size() % 2 == 1)
        return *middle;
    return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

std::vector<double> without_drift(std::span<const double> signal) {
    const auto later = signal.subspan(signal.size() / 2);
    const double middle = 0.5 * static_cast<double>(later.size() - 1); // of the later half, from its start
    const auto start = static_cast<double>(signal.size() - later.size());
    const double mean = std::accumulate(later.begin(), later.end(), 0.0) / static_cast<double>(later.size());
    double moment = 0;
    double inertia = 0;
    for (std::size_t i = 0; i < later.size(); ++i) {
        const double arm = static_cast<double>(i) - middle;
        moment += arm * (later[i] - mean);
        inertia += arm * arm;
    }
    const double slope = inertia > 0 ? moment / inertia : 0;
    std::vector<double> rest(signal.begin(), signal.end());
    for (std::size_t i = 0; i < rest.size(); ++i)
        rest[i] -= mean + slope * (static_cast<double>(i) - start - middle);
    return rest;
}

std::vector<Mark> turning_points(std::span<const double> signal, std::span<const double> least) {
    std::vector<Mark> turns;
    std::size_t high = 0;
    std::size_t low = 0;
    bool rising = true;
    bool falling = true; // both until the first turning point
    for (std::size_t i = 1; i < signal.size(); ++i) {
        if (rising && signal[i] > signal[high])
            high = i;
        if (falling && signal[i] < signal[low])
            low = i;
        const bool turns_down = rising && signal[high] - signal[i] >= least[high];
        const bool turns_up = !turns_down && falling && signal[i] - signal[low] >= least[low];
        if (turns_down || turns_up) {
            const std::size_t at = turns_down ? high : low;
            if (at > 0)
                turns.push_back(extreme(signal, at, std::abs(signal[at] - signal[i])));
            rising = turns_up;
            falling = turns_down;
            high = low = i;
        }
    }
    return turns;
}

std::vector<Mark> swings_between(std::span<const Mark> turns) {
    std::vector<Mark> swings;
    for (std::size_t i = 1; i + 1 < turns.size(); ++i)
        swings.push_back(
            {turns[i].time, std::abs(turns[i].value - 0.5 * (turns[i - 1].value + turns[i + 1].value))});
    return swings;
}

std::size_t count_from(std::span<const Mark> swings, double threshold) {
    return static_cast<std::size_t>(
        std::ranges::count_if(swings, [&](const Mark& swing) { return swing.value >= threshold; }));
}

std::vector<Mark> turning_points(std::span<const double> rest, double threshold) {
    const double least = least_swing_of_threshold * threshold;
    auto turns = turning_points(rest, least_swings(rest, least));
    // What looked like ripple is the oscillation if that on which it rides is too slow to be one.
    if (count_from(swings_between(turns), threshold) < least_swings_of_oscillation)
        turns = turning_points(rest, std::vector<double>(rest.size(), least));
    return turns;
}

} // namespace needleturn::sim
