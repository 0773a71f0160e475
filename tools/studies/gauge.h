/// What a gauge makes of a run: tools/studies/fit.h says the equation.
#pragma once

#include <Eigen/Core>

#include <vector>

namespace needleturn {

struct Gauge {
    double lag = 0;    ///< s, >= 0, of first order
    double clock = 0;  ///< s, that the logger's time is ahead of the scenario's
    double offset = 0; ///< SI
    double gain = 1;   ///< > 0; 1.02: it reads 2 % too much
};

/// Readings at `times`, s of the logger, of `signal`, which is told every `interval` s from 0 on and was at rest before. Linear in
/// `signal`, the offset aside.
Eigen::VectorXd seen_by(const Gauge& gauge, const Eigen::VectorXd& signal, double interval,
                        const std::vector<double>& times);

/// Standard deviation of what flickers from reading to reading, from the median of second differences, with that of the steps in
/// which the readings are told: a step over sqrt(12) (B. Widrow, 1956; from memory).
double flicker_of(const std::vector<double>& readings);

} // namespace needleturn
