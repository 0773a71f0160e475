#include "tools/studies/demand_ramp.h"

#include "tools/studies/outlets.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <span>
#include <vector>

namespace needleturn {

namespace {

constexpr double interval = 0.01;   // s, between samples: a hundred a second show what a gauge shows
constexpr std::size_t window = 200; // samples of the running mean
constexpr double rest = 5;          // s, before, between and after the ways up and down

std::vector<double> running_mean(const std::vector<double>& signal) {
    std::vector<double> sums(signal.size() + 1, 0.0), mean;
    std::partial_sum(signal.begin(), signal.end(), sums.begin() + 1);
    for (std::size_t i = 0; i < signal.size(); ++i) {
        const std::size_t reach = std::min({window / 2, i, signal.size() - 1 - i});
        mean.push_back((sums[i + reach + 1] - sums[i - reach]) / static_cast<double>(2 * reach + 1));
    }
    return mean;
}

/// The value of `of` where `at`, rising or falling throughout, passes `x`.
double interpolated(std::span<const double> at, std::span<const double> of, double x) {
    const bool rises = at.back() > at.front();
    const auto after =
        std::partition_point(at.begin(), at.end(), [&](double v) { return rises ? v < x : v > x; });
    const auto k = static_cast<std::size_t>(
        std::clamp<std::ptrdiff_t>(after - at.begin(), 1, static_cast<std::ptrdiff_t>(at.size()) - 1));
    const double share = at[k] == at[k - 1] ? 0 : (x - at[k - 1]) / (at[k] - at[k - 1]);
    return of[k - 1] + std::clamp(share, 0.0, 1.0) * (of[k] - of[k - 1]);
}

} // namespace

double ramp_duration(double seconds) { return 2 * seconds + 3 * rest; }

HandOver ramp_up_and_down(scenarios::Scenario scenario, double low, double high, double seconds,
                          const Progress& progress) {
    constexpr std::size_t pieces = 60; // straight ones that make up the equal ratios
    hold_supply(scenario);
    scenario.adjustments.clear();
    const auto shares = shares_of(scenario);
    lay_flow(scenario, low, shares);
    double at = rest;
    const double piece = seconds / static_cast<double>(pieces);
    for (const double direction : {1.0, -1.0}) {
        for (std::size_t i = 1; i <= pieces; ++i) {
            const double way = static_cast<double>(i) / static_cast<double>(pieces);
            const double to = low * std::pow(high / low, direction > 0 ? way : 1 - way);
            visit_shares(scenario, shares, [&](const std::string&, scenarios::Demand& demand, double share) {
                if (share > 0)
                    demand.steps.push_back({at, share * to, piece});
            });
            at = rest + (direction > 0 ? 0 : seconds + rest) + static_cast<double>(i) * piece;
        }
        at += rest;
    }
    scenario.run.duration = ramp_duration(seconds);
    scenario.run.sample_interval = interval;

    const auto outcome = simulate(scenario, progress);
    HandOver ramp;
    ramp.failure = outcome.record.failure;
    const auto& recording = outcome.record.recording;
    std::vector<double> pressure, flow;
    for (std::size_t i = 0; i < recording.time.size(); i += outcome.stride) {
        pressure.push_back(recording["outlet.pressure"][i]);
        double delivered = 0;
        scenarios::visit_outlets(scenario, [&](const std::string& name, const scenarios::Demand&) {
            delivered += recording[name + ".flow"][i];
        });
        flow.push_back(delivered);
    }
    ramp.highest = *std::ranges::max_element(pressure);
    ramp.lowest = *std::ranges::min_element(pressure);
    const auto mean = running_mean(pressure), mean_flow = running_mean(flow);
    // Oscillation around the running mean, window by window; what lasts for three of them is no mere ring of a stage that
    // leaves its seat.
    std::vector<double> swings;
    for (std::size_t begin = 0; begin + window <= pressure.size(); begin += window) {
        double highest = 0, lowest = 0;
        for (std::size_t k = begin; k < begin + window; ++k) {
            highest = std::max(highest, pressure[k] - mean[k]);
            lowest = std::min(lowest, pressure[k] - mean[k]);
        }
        swings.push_back(highest - lowest);
    }
    for (std::size_t i = 1; i + 1 < swings.size(); ++i) {
        const double lasting = std::min({swings[i - 1], swings[i], swings[i + 1]});
        if (lasting > ramp.swing) {
            ramp.swing = lasting;
            ramp.swing_at = flow[i * window];
        }
    }
    const auto samples = [](double t) { return static_cast<std::size_t>(t / interval); };
    const std::size_t length = samples(seconds), up = samples(rest), down = samples(2 * rest + seconds);
    if (!ramp.failure.empty() || down + length > pressure.size())
        return ramp;
    // Without the last second: the running mean there sees what comes after the ramp has stopped.
    const auto way = [&](const std::vector<double>& signal, std::size_t begin) {
        return std::span(signal).subspan(begin, length - window / 2);
    };
    // Valves and water columns lag behind either way alike, so that the lag drops out of the mean of both ways.
    constexpr std::size_t looks = 500;
    double lowest = std::numeric_limits<double>::infinity();
    const double least = way(mean_flow, up).front(), most = way(mean_flow, up).back(); // delivered
    for (std::size_t i = 1; i < looks; ++i) {
        const double q = least * std::pow(most / least, static_cast<double>(i) / static_cast<double>(looks));
        const double rising = interpolated(way(mean_flow, up), way(mean, up), q);
        const double falling = interpolated(way(mean_flow, down), way(mean, down), q);
        const double between = 0.5 * (rising + falling);
        lowest = std::min(lowest, between);
        ramp.rise = std::max(ramp.rise, between - lowest);
        if (std::abs(rising - falling) > ramp.hysteresis) {
            ramp.hysteresis = std::abs(rising - falling);
            ramp.hysteresis_at = q;
        }
    }
    return ramp;
}

} // namespace needleturn
