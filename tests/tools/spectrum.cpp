/// The amplitude spectrum against what is known of the Hann window.
#include "tools/studies/spectrum.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace needleturn;

namespace {

constexpr double interval = 1e-3;     // s
constexpr std::size_t samples = 4096; // a power of two: nothing is padded, bins are 1 / 4.096 s apart
constexpr double bin = 1 / (interval * samples);

std::vector<double> sine(double amplitude, double frequency) {
    std::vector<double> signal(samples);
    for (std::size_t i = 0; i < samples; ++i)
        signal[i] =
            amplitude * std::sin(2 * std::numbers::pi * frequency * interval * static_cast<double>(i));
    return signal;
}

double largest(const Spectrum& spectrum) {
    return *std::max_element(spectrum.amplitude.begin(), spectrum.amplitude.end());
}

} // namespace

TEST_CASE("a sine on a line of the spectrum shows its amplitude at its frequency") {
    const auto spectrum = amplitude_spectrum(sine(3, 16 * bin), interval, 50);
    CHECK(spectrum.spacing == doctest::Approx(bin));
    // What the removed straight line takes from sixteen periods is 0.4 % at most (least squares, 6 / (pi 16)^2 of the rest).
    CHECK(spectrum.amplitude[16] == doctest::Approx(3).epsilon(0.005));
    CHECK(largest(spectrum) == spectrum.amplitude[16]);
}

TEST_CASE("a sine half-way between two lines shows 1.42 dB low") {
    // Scalloping loss of the Hann window: Harris, Proc. IEEE 66 (1978), table 1, from memory; also (8 / (3 pi))= 0.849.
    const auto spectrum = amplitude_spectrum(sine(3, 16.5 * bin), interval, 50);
    CHECK(largest(spectrum) == doctest::Approx(3 * std::pow(10, -1.42 / 20)).epsilon(0.005));
}

TEST_CASE("a drift is no oscillation: it leaves no line") {
    std::vector<double> drift(samples);
    for (std::size_t i = 0; i < samples; ++i)
        drift[i] = 5 + 0.01 * static_cast<double>(i);
    CHECK(largest(amplitude_spectrum(drift, interval, 50)) < 1e-9); // rounding of numbers up to 46
}

TEST_CASE("too short a stretch has no spectrum") {
    CHECK(amplitude_spectrum(std::vector<double>(15, 1.0), interval, 50).amplitude.empty());
}
