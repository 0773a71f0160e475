/// Metrics of a study's own: a formula over signals that gives one number for a window of a run.
///
///     formula  = sum
///     sum      = product, then any number of "+ product" or "- product"
///     product  = factor, then any number of "* factor" or "/ factor"
///     factor   = "-" power, or power
///     power    = value, or value "^" whole number
///     value    = number | quantity | call | signal | "(" sum ")"
///     quantity = a number with its unit, as scenarios spell it, in single quotes: '5 bar'
///     call     = function "(" sum ")", time_above and time_below "(" sum "," sum ")"
///     signal   = the name of a recorded signal, outlet.pressure, or `time`, s from the window's start
///
/// A minus between two names needs spaces, for names may hold one. A signal is a course: a value at every sample of the window.
/// Arithmetic, abs(x), sqrt(x) and rate(x) (x per second) make a course of a course. One number is made of it by max, min,
/// mean, rms, std (about the mean), first, last, integral (over time), time_of_max, time_of_min (s from the window's start),
/// time_above(x, limit) and time_below(x, limit) (s). The formula as a whole must be one number.
///
/// What is added, subtracted or compared must have the same dimension; all values are SI.
///
/// The grammar is read by PEGTL, which keeps where each piece stands.
#pragma once

#include "scenarios/study.h"
#include "sim/contract/quantity.h"
#include "sim/recording.h"

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

namespace needleturn {

/// Part of a recording: samples begin .. end - 1, `interval` s apart.
struct RecordedWindow {
    const sim::Recording* recording = nullptr;
    std::size_t begin = 0, end = 0;
    double interval = 0;
};

struct Metric {
    scenarios::StudyMetric asked;
    std::string unit;                 ///< UDUNITS
    std::vector<std::string> signals; ///< that it reads
    std::function<double(const RecordedWindow&)> value;

    bool per_event() const { return asked.over == scenarios::StudyMetric::Over::each_event; }
    std::string meaning() const;

    /// Its value between two times of a recording, both included, s; NaN where less than two samples of the window that was
    /// asked for are left.
    double between(const sim::Recording& recording, double from, double to) const;
};

/// Reads the formula of `asked`. `known` are the signals that a run of the study records. Throws scenarios::ScenarioError, one
/// line with place, key and column, for what is no formula, longer than 1000 characters or with more than 100 open brackets, a
/// signal that is not known, dimensions that do not fit.
Metric read_metric(const scenarios::StudyMetric& asked, const std::vector<Quantity>& known);

} // namespace needleturn
