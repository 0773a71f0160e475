/// What repeats in readings of an oscillation: its frequency, its mean, and the shape of one cycle by Fourier coefficients, each
/// harmonic told relative to the phase of the first, so that where a cycle begins does not matter.
///
/// Least squares of
///     reading(t) = mean + trend (t - middle) + sum over h = 1..H of a_h cos(2 pi h f t) + b_h sin(2 pi h f t),
/// f found too, by Gauss and Newton's method from where one harmonic alone explains most. Readings may be as few as somewhat more than
/// two a cycle, where turning points (sim/hunting.h) tell nothing, and unevenly spaced.
#pragma once

#include <Eigen/Core>

#include <complex>
#include <cstddef>
#include <vector>

namespace needleturn::sim {

struct CycleShape {
    double frequency = 0; ///< Hz; 0: none was found
    double mean = 0;      ///< in the unit of the readings
    double phase = 0;     ///< rad, of the first harmonic at time 0: it is amplitude() cos(2 pi f t + phase)
    /// Harmonic h + 1 with the phase it has where the first is at its crest; the first is real and not below 0.
    std::vector<std::complex<double>> harmonics;
    double misfit = 0; ///< root mean square of readings less what repeats
    double amplitude() const { return harmonics.empty() ? 0 : harmonics[0].real(); }
    /// Of the mean cycle `cycles` (of one, 0 to 1) after the crest of the first harmonic, without the mean.
    double at(double cycles) const;
    /// Highest less lowest of the mean cycle.
    double swing() const;
};

/// Hz in [low, high] at which one harmonic explains most of the readings. As many times, in s, as values; 4 or more.
double strongest_frequency(const std::vector<double>& times, const Eigen::VectorXd& values, double low,
                           double high);

/// The shape with so many harmonics (1 or more) whose frequency is nearest `frequency` (Hz, > 0), at most half a cycle over the whole
/// stretch away. More than 2 harmonics + 3 readings; fewer give frequency 0.
CycleShape cycle_shape(const std::vector<double>& times, const Eigen::VectorXd& values, double frequency,
                       std::size_t harmonics);

} // namespace needleturn::sim
