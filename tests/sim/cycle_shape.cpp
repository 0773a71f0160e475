/// What repeats in readings whose truth is known: sums of cosines.
#include "sim/cycle_shape.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

using namespace needleturn;

namespace {

constexpr double turn = 2 * std::numbers::pi, frequency = 2.37, mean = 4.2, first = 0.5, second = 0.12,
                 lag = 0.8;

/// A cycle with a second harmonic that is `lag` ahead where the first is at its crest, on a trend of 0.01 a second.
double truth(double t, double phase) {
    return mean + 0.01 * (t - 4) + first * std::cos(turn * frequency * t + phase)
           + second * std::cos(2 * (turn * frequency * t + phase) + lag);
}

struct Read {
    std::vector<double> times;
    Eigen::VectorXd values;
};

/// 10 readings a second for 8 s: four a cycle, fewer than turning points need.
Read read(double phase, double noise, unsigned seed) {
    std::mt19937_64 draw(seed);
    std::normal_distribution<double> error(0, 1);
    Read all;
    all.values.resize(81);
    for (int i = 0; i <= 80; ++i) {
        all.times.push_back(0.1 * i);
        all.values[i] = truth(0.1 * i, phase) + noise * error(draw);
    }
    return all;
}

} // namespace

TEST_CASE("four readings a cycle tell its frequency and its shape wherever it begins") {
    for (const double phase : {0.0, 1.1, -2.9}) {
        CAPTURE(phase);
        const auto [times, values] = read(phase, 0, 1);
        const double near = sim::strongest_frequency(times, values, 0.5, 4.5);
        CHECK(near == doctest::Approx(frequency).epsilon(0.02));
        // The second harmonic, 4.74 Hz, is below half of the rate.
        const auto shape = sim::cycle_shape(times, values, near, 2);
        CHECK(shape.frequency == doctest::Approx(frequency).epsilon(1e-9));
        CHECK(shape.mean == doctest::Approx(mean).epsilon(1e-9));
        CHECK(shape.amplitude() == doctest::Approx(first).epsilon(1e-8));
        CHECK(std::abs(shape.harmonics[1] - std::polar(second, lag)) < 1e-8);
        CHECK(std::cos(shape.phase - phase) == doctest::Approx(1));
        CHECK(shape.misfit < 1e-8);
        double low = 10, high = -10;
        for (double t = 0; t < 1 / frequency; t += 1e-4) {
            low = std::min(low, truth(t, phase) - 0.01 * t);
            high = std::max(high, truth(t, phase) - 0.01 * t);
        }
        CHECK(shape.swing() == doctest::Approx(high - low).epsilon(1e-3));
    }
}

TEST_CASE("noise moves a frequency as the bound of Cramer and Rao says") {
    // Of N readings over T of amplitude A, noise s: deviation of f >= sqrt(6 / N) s / (pi A T) (D. C. Rife and R. R. Boorstyn,
    // IEEE Trans. Inf. Theory 20:591, 1974; from memory).
    constexpr double noise = 0.02;
    const double bound = std::sqrt(6.0 / 81) * noise / (std::numbers::pi * first * 8);
    double squares = 0;
    constexpr int draws = 100;
    for (unsigned i = 0; i < draws; ++i) {
        const auto [times, values] = read(0.3, noise, i + 1);
        squares += std::pow(sim::cycle_shape(times, values, frequency, 2).frequency - frequency, 2);
    }
    // A deviation of 100 draws is known to 7 %; three times that.
    CHECK(std::sqrt(squares / draws) == doctest::Approx(bound).epsilon(0.21));
}

TEST_CASE("too few readings have no shape") {
    CHECK(sim::cycle_shape({0, 1, 2, 3, 4}, Eigen::VectorXd::Ones(5), 0.3, 1).frequency == 0);
}
