#include "sim/surge.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>
#include <stdexcept>

namespace needleturn::sim {
namespace {

/// Samples [begin, end) of a signal.
struct Stretch {
    const Track& signal;
    std::size_t begin, end;
    std::size_t size() const { return end - begin; }
    /// The part of it in which it counts as settled.
    Stretch last_quarter() const { return {signal, end - (size() + 3) / 4, end}; }
};

/// Hann-weighted mean of the last quarter. The ends of the window, where the weight is 0, lie outside the
/// samples. Summed as deviations from the last sample, so that a constant signal settles to itself exactly.
double settled_to(const Stretch& stretch) {
    const auto quarter = stretch.last_quarter();
    const double last = quarter.signal[quarter.end - 1];
    double sum = 0;
    double weights = 0;
    for (std::size_t i = 0; i < quarter.size(); ++i) {
        const double phase =
            std::numbers::pi * static_cast<double>(i + 1) / static_cast<double>(quarter.size() + 1);
        const double weight = std::sin(phase) * std::sin(phase);
        sum += weight * (quarter.signal[quarter.begin + i] - last);
        weights += weight;
    }
    return last + sum / weights;
}

/// In samples from the first of `response`.
double settling(const Stretch& response, double after, double band, std::size_t settled_part) {
    const auto& signal = response.signal;
    std::size_t inside_from = response.end;
    while (inside_from > response.begin && !(std::abs(signal[inside_from - 1] - after) > band))
        --inside_from;
    if (inside_from == response.begin)
        return 0;
    if (inside_from > response.end - settled_part)
        return std::numeric_limits<double>::infinity();
    const double outer = signal[inside_from - 1];
    const double inner = signal[inside_from];
    const double edge = outer > after ? after + band : after - band;
    return static_cast<double>(inside_from - 1 - response.begin) + (edge - outer) / (inner - outer);
}

double steepest(const Stretch& response, double interval) {
    if (response.size() < 2)
        return 0;
    const auto base = std::clamp(static_cast<std::size_t>(std::llround(rise_time_base / interval)),
                                 std::size_t{1}, response.size() - 1);
    const Track earlier = response.signal; // so that neither reads the other's piece away
    double rise = 0;
    for (std::size_t i = response.begin + base; i < response.end; ++i)
        rise = std::max(rise, response.signal[i] - earlier[i - base]);
    return rise / (static_cast<double>(base) * interval);
}

void require_finite(const Stretch& stretch) {
    for (std::size_t i = stretch.begin; i < stretch.end; ++i)
        if (!std::isfinite(stretch.signal[i]))
            throw std::invalid_argument("surge: the signal holds a value that is not finite");
}

} // namespace

Surge find_surge(const Track& signal, double interval, const EventWindow& window, double band) {
    if (!(interval > 0) || !(band > 0))
        throw std::invalid_argument("surge: the sampling interval and the band must be positive");
    if (window.before > window.start || window.start > window.ramp_end || window.ramp_end >= window.end
        || window.end > signal.size())
        throw std::invalid_argument("surge: the event's window is out of order or outside the signal");

    require_finite({signal, window.before, window.end});
    const Stretch response{signal, window.start, window.end};
    const Stretch settled{signal, window.ramp_end, window.end};
    Surge surge;
    surge.before = window.before < window.start ? settled_to({signal, window.before, window.start})
                                                : signal[window.start];
    surge.after = settled_to(settled);

    surge.highest = surge.lowest = signal[window.start];
    std::size_t high = window.start, low = window.start;
    for (std::size_t i = window.start; i < window.end; ++i) {
        const double value = signal[i];
        if (value < surge.lowest) {
            surge.lowest = value;
            low = i;
        }
        if (value >= surge.highest) {
            surge.highest = value;
            high = i;
        }
    }
    surge.highest_time = interval * static_cast<double>(high - window.start);
    surge.lowest_time = interval * static_cast<double>(low - window.start);

    const double change = surge.after - surge.before;
    const double above = std::max(0.0, surge.highest - surge.after);
    const double below = std::max(0.0, surge.after - surge.lowest);
    if (std::abs(change) <= band) {
        surge.overshoot = std::max(above, below);
        surge.overshoot_fraction = std::numeric_limits<double>::quiet_NaN();
    } else {
        surge.overshoot = change > 0 ? above : below;
        surge.overshoot_fraction = surge.overshoot / std::abs(change);
    }
    surge.settling_time = interval * settling(response, surge.after, band, settled.last_quarter().size());
    surge.steepest_rise = steepest(response, interval);
    return surge;
}

double settled_to(const Track& signal, double interval, const EventWindow& window) {
    constexpr double any_band = 1;
    return find_surge(signal, interval, window, any_band).after;
}

double wrong_way(const Track& signal, std::size_t begin, std::size_t end) {
    if (begin == end)
        return 0;
    const double first = signal[begin];
    const double change = settled_to({signal, begin, end}) - first;
    const double direction = change > 0 ? 1 : change < 0 ? -1 : 0;
    double furthest = 0;
    for (std::size_t i = begin; i < end; ++i) {
        const double moved = direction * (signal[i] - first);
        if (moved >= 0.5 * std::abs(change))
            break;
        furthest = std::max(furthest, -moved);
    }
    return furthest;
}

} // namespace needleturn::sim
