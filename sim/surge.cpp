#include "sim/surge.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>

namespace needleturn::sim {
namespace {

/// The part of a stretch in which it counts as settled.
std::span<const double> last_quarter(std::span<const double> stretch) {
    return stretch.last((stretch.size() + 3) / 4);
}

/// Hann-weighted mean of the last quarter. The ends of the window, where the weight is 0, lie outside the
/// samples. Summed as deviations from the last sample, so that a constant signal settles to itself exactly.
double settled_to(std::span<const double> stretch) {
    const auto quarter = last_quarter(stretch);
    double sum = 0;
    double weights = 0;
    for (std::size_t i = 0; i < quarter.size(); ++i) {
        const double phase =
            std::numbers::pi * static_cast<double>(i + 1) / static_cast<double>(quarter.size() + 1);
        const double weight = std::sin(phase) * std::sin(phase);
        sum += weight * (quarter[i] - quarter.back());
        weights += weight;
    }
    return quarter.back() + sum / weights;
}

/// In samples from the first of `response`.
double settling(std::span<const double> response, double after, double band, std::size_t settled_part) {
    const auto outside = [&](double x) { return std::abs(x - after) > band; };
    const auto last = std::find_if(response.rbegin(), response.rend(), outside);
    if (last == response.rend())
        return 0;
    const auto inside_from = static_cast<std::size_t>(response.rend() - last);
    if (inside_from > response.size() - settled_part)
        return std::numeric_limits<double>::infinity();
    const double outer = response[inside_from - 1];
    const double inner = response[inside_from];
    const double edge = outer > after ? after + band : after - band;
    return static_cast<double>(inside_from - 1) + (edge - outer) / (inner - outer);
}

double steepest(std::span<const double> response, double interval) {
    if (response.size() < 2)
        return 0;
    const auto base = std::clamp(static_cast<std::size_t>(std::llround(rise_time_base / interval)),
                                 std::size_t{1}, response.size() - 1);
    double rise = 0;
    for (std::size_t i = base; i < response.size(); ++i)
        rise = std::max(rise, response[i] - response[i - base]);
    return rise / (static_cast<double>(base) * interval);
}

} // namespace

Surge find_surge(std::span<const double> signal, double interval, const EventWindow& window, double band) {
    if (!(interval > 0) || !(band > 0))
        throw std::invalid_argument("surge: the sampling interval and the band must be positive");
    if (window.before > window.start || window.start > window.ramp_end || window.ramp_end >= window.end
        || window.end > signal.size())
        throw std::invalid_argument("surge: the event's window is out of order or outside the signal");

    const auto response = signal.subspan(window.start, window.end - window.start);
    const auto whole = signal.subspan(window.before, window.end - window.before);
    if (!std::ranges::all_of(whole, [](double x) { return std::isfinite(x); }))
        throw std::invalid_argument("surge: the signal holds a value that is not finite");
    const auto settled = signal.subspan(window.ramp_end, window.end - window.ramp_end);
    Surge surge;
    surge.before = window.before < window.start
                       ? settled_to(signal.subspan(window.before, window.start - window.before))
                       : signal[window.start];
    surge.after = settled_to(settled);

    const auto [low, high] = std::ranges::minmax_element(response);
    surge.highest = *high;
    surge.highest_time = interval * static_cast<double>(high - response.begin());
    surge.lowest = *low;
    surge.lowest_time = interval * static_cast<double>(low - response.begin());

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
    surge.settling_time = interval * settling(response, surge.after, band, last_quarter(settled).size());
    surge.steepest_rise = steepest(response, interval);
    return surge;
}

double wrong_way(std::span<const double> signal) {
    if (signal.empty())
        return 0;
    const double change = settled_to(signal) - signal.front();
    const double direction = change > 0 ? 1 : change < 0 ? -1 : 0;
    double furthest = 0;
    for (const double x : signal) {
        const double moved = direction * (x - signal.front());
        if (moved >= 0.5 * std::abs(change))
            break;
        furthest = std::max(furthest, -moved);
    }
    return furthest;
}

} // namespace needleturn::sim
