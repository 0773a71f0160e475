#include "scenarios/flutter.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <random>
#include <vector>

namespace needleturn::scenarios {

namespace {

/// In [0, 1): the distributions of the standard library differ from library to library, this does not.
double uniform(std::mt19937_64& random) { return static_cast<double>(random() >> 11) * 0x1p-53; }

/// Noise of this rms at 0, interval, 2 interval, ...
std::vector<double> noise(std::size_t count, double interval, const Flutter& flutter, std::uint64_t seed) {
    std::mt19937_64 random(seed);
    constexpr int lines = 64;
    std::vector<double> values(count, 0.0);
    for (int line = 0; line < lines; ++line) {
        // Anywhere in its own share of the band, or the noise would repeat itself after lines / band seconds.
        const double omega = 2 * std::numbers::pi * flutter.band * (line + uniform(random)) / lines;
        const double phase = 2 * std::numbers::pi * uniform(random);
        for (std::size_t k = 0; k < count; ++k)
            values[k] += std::cos(omega * static_cast<double>(k) * interval + phase);
    }
    double squares = 0;
    for (const double value : values)
        squares += value * value;
    const double scale = flutter.rms / std::sqrt(squares / static_cast<double>(count));
    for (double& value : values)
        value *= scale;
    values.front() = 0;
    return values;
}

} // namespace

Schedule fluttering(const Schedule& steady, const Flutter& flutter, double duration, std::size_t place) {
    constexpr double nodes_per_period = 8;
    const double interval = 1 / (nodes_per_period * flutter.band);
    const auto count = static_cast<std::size_t>(std::ceil(duration / interval)) + 1;
    constexpr std::uint64_t places = 1000; // more demands than a station has
    const auto values = noise(count, interval, flutter, flutter.seed.value_or(1) * places + place);
    const auto factor = [&](double t) {
        const double nodes = t / interval;
        const auto k = std::min(static_cast<std::size_t>(nodes), count - 2);
        const double share = nodes - static_cast<double>(k);
        return 1 + values[k] + share * (values[k + 1] - values[k]);
    };
    const auto drawn = [&](double value, double t) { return std::max(0.0, value * factor(t)); };

    std::vector<double> times;
    for (std::size_t k = 0; k < count; ++k)
        times.push_back(static_cast<double>(k) * interval);
    for (const double t : steady.breakpoints())
        if (t > 0 && t < times.back())
            times.push_back(t);
    std::ranges::sort(times);
    times.erase(std::unique(times.begin(), times.end()), times.end());

    Schedule result(drawn(steady.start(), 0));
    for (std::size_t i = 0; i + 1 < times.size(); ++i) {
        const auto piece = steady.piece(times[i]);
        // At a jump the value before it is where the last straight line ended.
        const double before = result.changes().empty() ? result.start() : result.changes().back().to;
        const double after = drawn(piece(times[i]), times[i]);
        if (after != before)
            result.then({times[i], after, 0});
        result.then({times[i], drawn(piece(times[i + 1]), times[i + 1]), times[i + 1] - times[i]});
    }
    return result;
}

} // namespace needleturn::scenarios
