/// Runs of the reference stage, sampled on an even grid: what tests of phenomena look at.
#pragma once

#include "sim/hunting.h"
#include "sim/integrate.h"
#include "tests/reference_stage.h"

#include <Eigen/Core>

#include <algorithm>
#include <cstddef>
#include <span>
#include <vector>

namespace needleturn::reference {

/// s between samples: twenty or more to a cycle of hunting, eight to one of the cover's water on trapped air.
inline constexpr double sample_interval = 1e-3;

/// Smallest peak-to-peak that a gauge shows, Pa.
inline constexpr double visible = 0.02 * bar;

/// What is asked of the reference stage.
struct Case {
    Schedule demand;         ///< see demand_steps
    double duration = 0;     ///< s
    double air = 0;          ///< m3 in the cover at 6.6 bar absolute
    double opening = 3;      ///< turns
    double closing = 6;      ///< turns
    double tolerance = 1e-5; ///< relative
};

/// Values at the sample times from 0 on.
struct Samples {
    std::vector<double> outlet; ///< Pa
    std::vector<double> lift;   ///< m

    /// The part of `signal` from time `begin` to `end`, s.
    static std::span<const double> between(const std::vector<double>& signal, double begin, double end) {
        const auto index = [&](double t) {
            return std::min(static_cast<std::size_t>(t / sample_interval + 0.5), signal.size());
        };
        return std::span(signal).subspan(index(begin), index(end) - index(begin));
    }
    /// The same to the end.
    static std::span<const double> from(const std::vector<double>& signal, double begin) {
        return between(signal, begin, static_cast<double>(signal.size()) * sample_interval);
    }
};

/// Demand that changes in steps of flow (L/s at the flowing setting): {at, to, over}, s.
inline Schedule demand_steps(double start, const std::vector<Schedule::Change>& changes = {}) {
    Schedule demand(demand_for(start * litre));
    for (const auto& change : changes)
        demand.then({change.at, demand_for(change.to * litre), change.over});
    return demand;
}

/// Runs the case from its steady state.
inline Samples run(const Case& asked) {
    const models::Station station(parts());
    sim::System system(station, drives(asked.demand, Schedule(asked.opening), Schedule(asked.closing)));
    Eigen::VectorXd y = steady_start(station, system, asked.air), stored;
    std::vector<double> values(system.size() + system.schedules().size());
    Samples samples;
    const auto sample = [&](double t, const Eigen::VectorXd& at) {
        system.values(t, at.data(), values.data());
        samples.outlet.push_back(values[station.outlet()]);
        samples.lift.push_back(values[station.stage(0).lift]);
    };
    sample(0, y);
    sim::Counts counts;
    sim::integrate(system, y, 0, asked.duration, {asked.tolerance}, counts, [&](const auto& stepper) {
        for (;;) {
            const double t = static_cast<double>(samples.outlet.size()) * sample_interval;
            if (t > stepper.current_time())
                break;
            stepper.calc_state(t, stored);
            sample(t, stored);
        }
    });
    return samples;
}

inline double highest(std::span<const double> signal) { return std::ranges::max(signal); }
inline double lowest(std::span<const double> signal) { return std::ranges::min(signal); }
inline double peak_to_peak(std::span<const double> signal) { return highest(signal) - lowest(signal); }

/// The verdict on the outlet pressure of a window.
inline sim::Hunting hunting(std::span<const double> outlet) {
    return sim::find_hunting(outlet, sample_interval, visible);
}

} // namespace needleturn::reference
