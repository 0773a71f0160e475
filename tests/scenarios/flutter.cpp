/// Flutter: as large as stated, no faster than stated, on top of what the schedule does, and the same again.
#include "scenarios/flutter.h"

#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

namespace {

using namespace needleturn;
using scenarios::fluttering;
using tests::relative;

constexpr double duration = 60;

scenarios::Flutter flutter(double size, double band, std::size_t seed = 1) {
    return {.rms = size, .band = band, .seed = seed};
}

/// What is on top of 1, every `interval` s.
std::vector<double> sampled(const Schedule& schedule, double interval) {
    std::vector<double> values;
    for (double t = 0; t < duration; t += interval)
        values.push_back(schedule(t) - 1);
    return values;
}

double rms(const std::vector<double>& values) {
    double squares = 0;
    for (const double value : values)
        squares += value * value;
    return std::sqrt(squares / static_cast<double>(values.size()));
}

/// Share of the power of `values` at frequencies above `limit`, Hz, by a plain discrete Fourier transform.
double power_above(const std::vector<double>& values, double interval, double limit) {
    double above = 0, all = 0;
    const auto n = values.size();
    for (std::size_t k = 1; k < n / 2; ++k) {
        std::complex<double> sum = 0;
        for (std::size_t i = 0; i < n; ++i)
            sum += values[i]
                   * std::polar(1.0, -2 * std::numbers::pi * static_cast<double>(k * i % n)
                                         / static_cast<double>(n));
        all += std::norm(sum);
        above += static_cast<double>(k) / (static_cast<double>(n) * interval) > limit ? std::norm(sum) : 0;
    }
    return above / all;
}

} // namespace

TEST_CASE("flutter has its stated size, and next to nothing above its band") {
    for (const double band : {0.5, 2.0, 5.0}) {
        CAPTURE(band);
        const auto values = sampled(fluttering(Schedule(1), flutter(0.03, band), duration, 0), 0.02);
        // Straight lines between eight values a period take up to 5 % off its fastest part.
        CHECK(rms(values) == relative(0.03, 0.05));
        // What straight lines add, and what a window of 60 s smears past the edge of the band.
        CHECK(power_above(values, 0.02, 1.1 * band) < 0.01);
        CHECK(power_above(values, 0.02, 0.5 * band) == relative(0.5, 0.35)); // 64 lines with phases by chance
    }
}

TEST_CASE("the same seed gives the same flutter, another seed or another demand another one") {
    const auto values = [](std::size_t seed, std::size_t place) {
        return sampled(fluttering(Schedule(1), flutter(0.03, 2, seed), duration, place), 0.1);
    };
    CHECK(values(7, 0) == values(7, 0));
    CHECK(values(7, 0) != values(8, 0));
    CHECK(values(7, 0) != values(7, 1));
}

TEST_CASE("flutter rides on jumps and ramps, begins with nothing and never draws less than nothing") {
    Schedule steady(4);
    steady.then({10, 8});
    steady.then({20, 0, 10});
    const auto schedule = fluttering(steady, flutter(0.5, 2), duration, 0);
    CHECK(schedule(0) == 4);
    double sum = 0;
    for (double t = 0; t < duration; t += 0.01) {
        CHECK(schedule(t) >= 0);
        if (t > 31)
            CHECK(schedule(t) == 0);
    }
    for (double t = 10; t < 20; t += 0.01)
        sum += schedule(t) * 0.01;
    CHECK(sum / 10 == relative(8, 0.2)); // the mean of ten seconds of noise of 0.5 with lines from 0.03 Hz on
    const double before = schedule(10 - 1e-9), after = schedule(10);
    CHECK(after / before == relative(2, 1e-6)); // the jump is there, at its time
}
