/// A scenario fitted to what its gauges have logged.
///
/// Wanted are the unknowns whose run, seen through the gauges, lies nearest the readings, and how sure that makes them: least
/// squares with the ranges of the unknowns as priors (sim/least_squares.h, tools/studies/fit_unknown.h), Huber's weights against
/// outliers, from several starts.
///
/// A gauge: reading(t) = gain lagged pressure(t - clock) + offset + noise. The lag is of first order (a snubber or a filter); the clock
/// is that of the logger against the scenario's, the same for all channels, as the lag is; each gauge has a gain and each
/// pressure gauge an offset of its own. The noise is estimated from the residuals. Where neighbouring residuals go together (correlation rho), the ranges are made
/// wider by sqrt((1 + rho) / (1 - rho)), as for a first-order autoregression: so many fewer readings count.
///
/// A trace is not of the model's grid. So the fit looks where the estimate would have gone with the pipes in four times as many cells, to
/// first order, and adds that move times itself to the covariance.
///
/// Where a trace hunts, what repeats is compared instead of single readings (fit_cycles.h): with errors of its own, known beforehand.
#pragma once

#include "scenarios/read_scenario.h"
#include "scenarios/trace.h"
#include "sim/least_squares.h"
#include "tools/studies/fit_cycles.h"
#include "tools/studies/fit_unknown.h"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

namespace needleturn {

inline constexpr double fit_confidence = 0.9; ///< of the ranges

struct FitQuestion {
    scenarios::ScenarioFile file;
    scenarios::Trace trace;
    double start = 0; ///< s, the trace's time at which the scenario's is 0
    std::vector<Unknown> unknowns;
    std::size_t starts = 2;
    std::uint64_t seed = 1; ///< of the starts behind the first
    bool exact_grid =
        false; ///< the trace was made by the model on the same grid: ranges need not hold its error
    unsigned threads = 1;
    std::function<void()>
        progress; ///< called after each run of the model, by one thread at a time; may be empty
    std::function<bool()> go_on =
        {}; ///< asked often, by several threads; false ends it: Stopped is thrown (traced_run.h)
};

struct Fitted {
    struct Value {
        Unknown unknown; ///< a gauge's offset: "gauge.offset of outlet"
        double before_low = 0, before_high = 0;
        double value = 0, low = 0, high = 0; ///< SI, after; the range holds the truth in 90 of 100 fits
        double z = 0, left = 1; ///< the estimate, and what is left of the prior's deviation, (0, 1]
        bool by_differences = false;
        bool told() const {
            return left < 0.8;
        } ///< narrower by a fifth or more: a reader sees the difference
    };
    struct Pair {
        std::size_t first = 0, second = 0; ///< of `values`
        double correlation = 0;
    };
    /// A stretch that hunts, and what the model with the values found does there. SI, s of the scenario.
    struct OfCycles {
        CycleStretch stretch;
        sim::CycleShape model;
        Eigen::VectorXd shown;  ///< what the gauge would have read by the model, at its readings
        double probability = 1; ///< that errors alone give as large a difference as the largest of them
        bool explained() const;
        bool model_hunts() const; ///< swings by a third of what the trace does, or more
    };
    struct OfChannel {
        scenarios::Logged what = scenarios::Logged::outlet;
        std::size_t readings = 0; ///< compared one by one
        double noise = 0;         ///< SI, standard deviation of the residuals without outliers
        double outliers = 0;      ///< share of the readings beyond four times that
        sim::Whiteness whiteness;
        double worst = 0,
               worst_at = 0; ///< SI and s of the scenario: where the residuals, smoothed, are largest
        std::vector<double> time, reading, model; ///< s of the scenario, SI; compared one by one
        std::vector<OfCycles> cycles;             ///< in order
        GaugeReadings left_out;                   ///< fit_cycles.h
        /// Where the model hunts by so much, peak to peak, and the trace, compared one by one, does not.
        struct Alone {
            double begin = 0, end = 0, frequency = 0, swing = 0;
        };
        std::vector<Alone> model_hunts_alone;
        bool noise_only() const; ///< whether the residuals of single readings may be noise
        bool explained() const;  ///< these, and every stretch that hunts
    };
    std::vector<Value> values; ///< the scenario's, then the gauges'
    std::vector<Pair> alike;   ///< |correlation| of 0.9 or more, the largest first: cannot be told apart
    std::vector<OfChannel> channels;
    sim::Estimate estimate;
    std::size_t starts = 0,
                agreeing =
                    0;    ///< how many searches were made, and how many of them ended where the best one did
    std::size_t runs = 0; ///< of the model
    std::size_t hunting_runs =
        0;              ///< of them, that hunt by a third of what the trace does, or more, wherever it does
    double widened = 1; ///< by correlated noise
    double widened_by_grid = 1; ///< the most that the range of any value of the scenario was

    bool explained() const;
    bool hunts() const; ///< whether some stretch of the trace does
    bool told() const;  ///< whether some value of the scenario is known better than before
};

/// Throws scenarios::ScenarioError where trace and scenario do not overlap, or nothing could be fitted, in one line; Stopped.
Fitted fit(const FitQuestion& question);

} // namespace needleturn
