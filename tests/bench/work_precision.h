/// How long a method takes for how small an error.
#pragma once

#include "tests/bench/problem.h"

#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace needleturn::bench {

double median(std::vector<double> values);

/// One method at one tolerance.
struct Point {
    double tolerance = 0;
    double error = 0; ///< bar
    double time = 0;  ///< s, median
    Work work;
    std::vector<double> pressure; ///< Pa, of the recorded run
};

struct Curve {
    std::string method;
    std::vector<Point> points; ///< from loose to tight tolerance
};

/// Largest difference in bar between two pressures (Pa) over samples [begin, end); infinite if either is too short.
double largest_difference(std::span<const double> a, std::span<const double> b, std::size_t begin,
                          std::size_t end);

struct Plan {
    std::vector<double> tolerances;
    std::size_t begin, end;  ///< samples over which the error is taken
    double interval;         ///< s, of the samples
    double longest;          ///< s of processor time; a run that takes longer is given up
    std::size_t repetitions; ///< timed runs of each method, all methods in turn
};

/// Runs all methods: once recorded, for the error, then timed without recording, in turn with the others.
std::vector<Curve> measure(Problem& problem, std::span<const std::unique_ptr<Method>> methods,
                           std::span<const double> reference, const Plan& plan);

/// Least time, s, in which the curve reaches `error`, by straight lines between its points on logarithmic scales;
/// empty outside what was measured.
std::optional<double> time_at(const Curve& curve, double error);

} // namespace needleturn::bench
