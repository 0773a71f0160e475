/// Which windows of readings hunt, how they are split, and what of a cycle is compared: of sums of cosines, whose truth is known.
#include "tools/studies/fit_cycles.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <vector>

using namespace needleturn;

namespace {

constexpr double turn = 2 * std::numbers::pi, frequency = 2.5, mean = 4e5;

/// Pa: at rest to 2 s, then an oscillation whose amplitude falls by `decay` a second, to 10 s; `rate` readings a second.
GaugeReadings readings(double rate, double amplitude, double decay, double own_frequency = frequency) {
    GaugeReadings all;
    for (int i = 0; i <= static_cast<int>(10 * rate); ++i) {
        const double t = i / rate;
        all.time.push_back(t);
        all.value.push_back(
            mean
            + (t < 2 ? 0
                     : amplitude * std::exp(-decay * (t - 2)) * std::sin(turn * own_frequency * (t - 2))));
    }
    return all;
}

std::vector<QuietWindow> windows() { return {{0, 2, 0}, {2, 10, 0}}; }

} // namespace

TEST_CASE("a window hunts whether its readings are close or far apart and a ring does not") {
    for (const double rate : {10.0, 100.0}) { // four readings a cycle, and forty
        CAPTURE(rate);
        auto found = windows();
        find_hunting_windows(found, readings(rate, 3e4, 0), 2e3);
        CHECK(found[0].frequency == 0);
        CHECK(found[1].frequency == doctest::Approx(frequency).epsilon(0.01));
        found = windows();
        find_hunting_windows(found, readings(rate, 3e4, 0.5), 2e3);
        CHECK(found[1].frequency == 0);
        found = windows();
        find_hunting_windows(found, readings(rate, 500, 0), 2e3); // smaller than what counts
        CHECK(found[1].frequency == 0);
    }
}

TEST_CASE("readings are calm or hunt or are left out and none is two of these") {
    const auto all = readings(10, 3e4, 0);
    auto found = windows();
    find_hunting_windows(found, all, 2e3);
    auto split = split_readings(all, found, 500);
    REQUIRE(split.cycles.size() == 2); // 17 cycles after three that go by their readings
    CHECK(split.cycles[0].readings.time.front() == doctest::Approx(2 + 3 / frequency).epsilon(0.05));
    CHECK(split.calm.time.size() + split.cycles[0].readings.time.size() + split.cycles[1].readings.time.size()
              + split.left_out.time.size()
          == all.time.size());
    CHECK(split.left_out.time.empty());
    for (const auto& stretch : split.cycles) {
        CHECK(stretch.told.amplitude() == doctest::Approx(3e4).epsilon(1e-6));
        CHECK(stretch.told.mean == doctest::Approx(mean).epsilon(1e-9));
    }
    // Calm after hunting: the first half carries its phase.
    split = split_readings(all, {{0, 2, 0}, {2, 6, frequency}, {6, 10, 0}}, 500);
    CHECK(split.calm.time.back() == doctest::Approx(10));
    CHECK(split.left_out.time.front() == doctest::Approx(6.1));
    CHECK(split.left_out.time.back() == doctest::Approx(7.9));
}

TEST_CASE("differences are in errors and where they lead is what a slope says") {
    const auto all = readings(20, 3e4, 0);
    auto found = windows();
    find_hunting_windows(found, all, 2e3);
    const auto split = split_readings(all, found, 500);
    REQUIRE_FALSE(split.cycles.empty());
    const auto& stretch = split.cycles[0];
    const auto seen = [&](double amplitude, double own_frequency) {
        Eigen::VectorXd values(static_cast<Eigen::Index>(stretch.readings.time.size()));
        for (std::size_t i = 0; i < stretch.readings.time.size(); ++i)
            values[static_cast<Eigen::Index>(i)] =
                mean + 100 + amplitude * std::cos(turn * own_frequency * stretch.readings.time[i] + 1);
        return values;
    };
    const auto differences = [&](const Eigen::VectorXd& values) {
        return differences_of(stretch, shape_in(stretch, values));
    };
    // Another phase is no difference; twice the amplitude is log 2, a percent of frequency 0.01, 100 Pa 100 Pa.
    const auto off = differences(seen(6e4, 1.01 * frequency));
    CHECK(off[0] * stretch.errors[0] == doctest::Approx(100).epsilon(1e-6));
    CHECK(off[1] * stretch.errors[1] == doctest::Approx(std::log(2)).epsilon(1e-3));
    CHECK(off[2] * stretch.errors[2] == doctest::Approx(std::log(1.01)).epsilon(0.01));
    // A calm model has no frequency, and the less it oscillates the further it is off: the search is led to hunting.
    CHECK(std::abs(differences(seen(10, 1.5 * frequency))[2]) < 1e-2);
    CHECK(differences(seen(100, frequency))[1] < differences(seen(1000, frequency))[1]);
    const Eigen::VectorXd here = seen(2e4, frequency), slope = seen(1, frequency).array() - (mean + 100);
    const auto found_slope = difference_slopes(stretch, here, shape_in(stretch, here), slope);
    CHECK(found_slope[1] * stretch.errors[1] == doctest::Approx(1 / 2e4).epsilon(1e-3)); // d log A = dA / A
}
