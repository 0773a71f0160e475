#include "tools/studies/gauge.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>

namespace needleturn {

namespace {

/// First-order lag, exact where the signal is straight between its samples.
Eigen::VectorXd lagged(const Eigen::VectorXd& signal, double interval, double lag) {
    if (!(lag > 0))
        return signal;
    const double ratio = interval / lag, kept = std::exp(-ratio);
    const double middle = -std::expm1(-ratio) / ratio;
    Eigen::VectorXd out(signal.size());
    out[0] = signal[0];
    for (Eigen::Index i = 1; i < signal.size(); ++i)
        out[i] = kept * out[i - 1] + (middle - kept) * signal[i - 1] + (1 - middle) * signal[i];
    return out;
}

} // namespace

Eigen::VectorXd seen_by(const Gauge& gauge, const Eigen::VectorXd& signal, double interval,
                        const std::vector<double>& times) {
    const Eigen::VectorXd slow = lagged(signal, interval, gauge.lag);
    Eigen::VectorXd readings(static_cast<Eigen::Index>(times.size()));
    const auto last = static_cast<double>(signal.size() - 1);
    for (std::size_t i = 0; i < times.size(); ++i) {
        const double place = std::clamp((times[i] - gauge.clock) / interval, 0.0, last);
        const auto below = std::min(static_cast<Eigen::Index>(place), signal.size() - 2);
        const double part = place - static_cast<double>(below);
        readings[static_cast<Eigen::Index>(i)] =
            gauge.gain * ((1 - part) * slow[below] + part * slow[below + 1]) + gauge.offset;
    }
    return readings;
}

double flicker_of(const std::vector<double>& readings) {
    std::vector<double> seconds;
    double step = std::numeric_limits<double>::infinity();
    for (std::size_t i = 1; i < readings.size(); ++i) {
        if (readings[i] != readings[i - 1])
            step = std::min(step, std::abs(readings[i] - readings[i - 1]));
        if (i + 1 < readings.size())
            seconds.push_back(std::abs(readings[i + 1] - 2 * readings[i] + readings[i - 1]));
    }
    if (seconds.empty() || !std::isfinite(step))
        return 0;
    const auto middle = seconds.begin() + static_cast<std::ptrdiff_t>(seconds.size() / 2);
    std::ranges::nth_element(seconds, middle);
    constexpr double of_normal = 0.6744897501960817;           // median of |z|, z standard normal
    const double noise = *middle / of_normal / std::sqrt(6.0); // 1, -2, 1: six times the variance
    return std::sqrt(noise * noise + step * step / 12);
}

} // namespace needleturn
