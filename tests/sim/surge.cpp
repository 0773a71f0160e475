#include "sim/surge.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>
#include <vector>

using needleturn::sim::EventWindow;
using needleturn::sim::find_surge;
using needleturn::sim::wrong_way;

namespace {

constexpr double interval = 0.001; // s
constexpr double band = 0.04;

template <class Function> std::vector<double> sampled(double duration, double step, Function&& f) {
    std::vector<double> samples;
    for (long i = 0; i <= std::lround(duration / step); ++i)
        samples.push_back(f(static_cast<double>(i) * step));
    return samples;
}

/// An event at 5 s in a record that starts at 0: steady at `before`, then `f` of the time since the event.
template <class Function>
std::vector<double> event_at_five(double before, Function&& f, double step = interval) {
    return sampled(25, step, [&](double t) { return t <= 5 ? before : f(t - 5); });
}

EventWindow window_of(const std::vector<double>& record, double step = interval, double ramp = 0) {
    const auto index = [&](double t) { return static_cast<std::size_t>(std::lround(t / step)); };
    return {0, index(5), index(5 + ramp), record.size()};
}

} // namespace

TEST_CASE("a steady signal has no surge and is settled from the start") {
    const std::vector<double> record(20001, 4.1);
    const auto surge = find_surge(record, interval, {0, 5000, 6000, 20001}, band);
    CHECK(surge.before == 4.1);
    CHECK(surge.after == 4.1);
    CHECK(surge.highest == 4.1);
    CHECK(surge.lowest == 4.1);
    CHECK(surge.overshoot == 0);
    CHECK(std::isnan(surge.overshoot_fraction));
    CHECK(surge.settling_time == 0);
    CHECK(surge.steepest_rise == 0);
}

TEST_CASE("a first-order step settles after the logarithm of step over band and does not overshoot") {
    for (const double direction : {1.0, -1.0}) {
        CAPTURE(direction);
        const auto record = event_at_five(4, [&](double t) { return 4 + direction * (1 - std::exp(-t)); });
        const auto surge = find_surge(record, interval, window_of(record), band);
        CHECK(surge.before == doctest::Approx(4).epsilon(1e-14));
        CHECK(surge.after
              == doctest::Approx(4 + direction).epsilon(1e-6)); // e^-15 is left in the last quarter
        CHECK(surge.settling_time == doctest::Approx(std::log(1 / band)).epsilon(1e-4));
        CHECK(surge.overshoot < 1e-6);
        CHECK(surge.overshoot_fraction < 1e-6);
        // Over 10 ms the rate falls by half a per cent on average.
        const double rate = (1 - std::exp(-0.01)) / 0.01;
        CHECK(surge.steepest_rise == doctest::Approx(direction > 0 ? rate : 0).epsilon(1e-6));
    }
}

TEST_CASE("peaks are found with their times from the start of the event") {
    const auto record = event_at_five(4, [](double t) {
        return 4 + std::exp(-(t - 2) * (t - 2) / 0.02) - 0.5 * std::exp(-(t - 3) * (t - 3) / 0.02);
    });
    const auto surge = find_surge(record, interval, window_of(record), band);
    CHECK(surge.highest == doctest::Approx(5).epsilon(1e-6)); // curvature 100 per s2 over half a sample
    CHECK(surge.highest_time == doctest::Approx(2).epsilon(interval));
    CHECK(surge.lowest == doctest::Approx(3.5).epsilon(1e-6));
    CHECK(surge.lowest_time == doctest::Approx(3).epsilon(interval));
}

TEST_CASE("a surge that comes back to where it began has no direction and overshoots to its larger side") {
    const auto record =
        event_at_five(4, [](double t) { return 4 - t * std::exp(1 - t) + 0.3 * std::exp(-t * t); });
    const auto surge = find_surge(record, interval, window_of(record), band);
    CHECK(surge.after - surge.before < band);
    CHECK(surge.overshoot == doctest::Approx(surge.after - surge.lowest));
    CHECK(surge.overshoot > 0.8);
    CHECK(std::isnan(surge.overshoot_fraction));
}

TEST_CASE("a signal that hunts by more than the band never settles and its mean is still found") {
    const auto hunting = [](double amplitude) {
        return event_at_five(
            4, [=](double t) { return 3 + amplitude * std::sin(2 * std::numbers::pi * 1.3 * t + 1); });
    };
    const auto record = hunting(0.1);
    const auto surge = find_surge(record, interval, window_of(record), band);
    CHECK(surge.settling_time == std::numeric_limits<double>::infinity());
    // 6.5 cycles in the last quarter: the Hann window leaves less than 1/(pi 6.5 (6.5^2 - 1)) of the
    // amplitude, 0.12 %.
    CHECK(std::abs(surge.after - 3) < 0.0012 * 0.1);
    const auto smaller = hunting(0.03);
    CHECK(find_surge(smaller, interval, window_of(smaller), band).settling_time < 0.01);
}

TEST_CASE("a signal that still leaves the band in the last quarter has not been seen to settle") {
    const auto bump_at = [](double when) {
        return event_at_five(4, [=](double t) { return 4 + (std::abs(t - when) < 0.05 ? 1.0 : 0.0); });
    };
    const auto early = bump_at(14.5); // the last quarter begins 15 s after the event
    CHECK(find_surge(early, interval, window_of(early), band).settling_time
          == doctest::Approx(14.55).epsilon(1e-4));
    const auto late = bump_at(15.5);
    CHECK(find_surge(late, interval, window_of(late), band).settling_time
          == std::numeric_limits<double>::infinity());
}

TEST_CASE("settling counts from the start of a slow event") {
    const auto record = event_at_five(4, [](double t) { return 4 + std::min(t, 2.0); });
    const auto surge = find_surge(record, interval, window_of(record, interval, 2), band);
    CHECK(surge.after == doctest::Approx(6).epsilon(1e-14));
    CHECK(surge.settling_time == doctest::Approx(2 - band).epsilon(1e-9)); // a straight line between samples
    CHECK(surge.steepest_rise == doctest::Approx(1).epsilon(1e-9));
}

TEST_CASE("hunting before an event does not leave its phase in the value before") {
    for (const double phase : {0.0, 1.0, 2.0, 3.0}) {
        CAPTURE(phase);
        const auto record = sampled(25, interval, [&](double t) {
            return t < 12 ? 4 + std::sin(2 * std::numbers::pi * 3 * t + phase) : 5;
        });
        const auto surge = find_surge(record, interval, {0, 12000, 12000, record.size()}, band);
        CHECK(std::abs(surge.before - 4) < 0.0005); // 9 cycles in 3 s: 1/(pi 9 (81 - 1)) of the amplitude
    }
}

TEST_CASE("only the event's own window counts") {
    auto record = event_at_five(4, [](double t) { return 4 + 1 - std::exp(-2 * t); });
    record[1000] = 100;
    record.push_back(-100);
    auto window = window_of(record);
    window.before = 2000;
    --window.end;
    const auto surge = find_surge(record, interval, window, band);
    CHECK(surge.highest < 5.001);
    CHECK(surge.lowest == 4);
    CHECK(surge.before == doctest::Approx(4).epsilon(1e-14));
}

TEST_CASE("a spike of one sample is not the steepest rise") {
    auto record = event_at_five(4, [](double t) { return 4 + 0.5 * t; });
    record[9000] += 0.1; // 100 per second from sample to sample
    CHECK(find_surge(record, interval, window_of(record), band).steepest_rise
          == doctest::Approx(0.5 + 0.1 / 0.01));
}

TEST_CASE("surge does not depend on the sampling interval") {
    const auto response = [](double t) { return 5 - std::exp(-0.6 * t) * std::cos(6 * t); };
    const auto coarse_record = event_at_five(4, response, 1e-3);
    const auto fine_record = event_at_five(4, response, 0.25e-3);
    const auto coarse = find_surge(coarse_record, 1e-3, window_of(coarse_record, 1e-3), band);
    const auto fine = find_surge(fine_record, 0.25e-3, window_of(fine_record, 0.25e-3), band);
    CHECK(coarse.after == doctest::Approx(fine.after).epsilon(1e-6));
    // The sample nearest a crest is at most 0.5 ms away: 36 per s2 / 2 (0.5 ms)^2 = 5e-6.
    CHECK(std::abs(coarse.highest - fine.highest) < 5e-6);
    CHECK(std::abs(coarse.highest_time - fine.highest_time) <= 1e-3);
    CHECK(std::abs(coarse.overshoot - fine.overshoot) < 1e-5);
    CHECK(coarse.settling_time
          == doctest::Approx(fine.settling_time).epsilon(1e-4)); // a chord of the same curve
    CHECK(coarse.steepest_rise
          == doctest::Approx(fine.steepest_rise).epsilon(1e-4)); // flat about its own crest
}

TEST_CASE("a signal that first dips before it rises goes the wrong way by the depth of the dip") {
    // Step response of (1 - s)/(1 + s)^2: 1 - (1 + 2 t) ... the lowest point of 1 - exp(-t) - 2 t exp(-t) is
    // at t = 1/2, where it is 1 - 2 exp(-1/2).
    const auto inverse = sampled(40, interval, [](double t) { return 1 - (1 + 2 * t) * std::exp(-t); });
    const double dip = 2 * std::exp(-0.5) - 1;
    CHECK(wrong_way(inverse)
          == doctest::Approx(dip).epsilon(1e-6)); // curvature 1.2 per s2 over half a sample
    const auto mirrored = sampled(40, interval, [](double t) { return 3 - 1 + (1 + 2 * t) * std::exp(-t); });
    CHECK(wrong_way(mirrored) == doctest::Approx(dip).epsilon(1e-6));
}

TEST_CASE("a straight, overshooting or constant signal does not go the wrong way") {
    CHECK(wrong_way(sampled(40, interval, [](double t) { return 1 - std::exp(-t); })) == 0);
    const auto swinging = sampled(
        80, interval, [](double t) { return 1 + std::exp(-0.1 * t) * (1.5 * std::sin(t) - std::cos(t)); });
    REQUIRE(*std::ranges::min_element(swinging)
            < -0.05); // back beyond its start, but that is no longer the first move
    CHECK(wrong_way(swinging) == 0);
    CHECK(wrong_way(std::vector<double>(100, 4.1)) == 0);
    CHECK(wrong_way(std::vector<double>{}) == 0);
}

TEST_CASE("a window out of order or outside the signal is refused") {
    const std::vector<double> record(100, 1.0);
    CHECK_THROWS_AS(find_surge(record, interval, {10, 5, 20, 100}, band), std::invalid_argument);
    CHECK_THROWS_AS(find_surge(record, interval, {0, 30, 20, 100}, band), std::invalid_argument);
    CHECK_THROWS_AS(find_surge(record, interval, {0, 5, 100, 100}, band), std::invalid_argument);
    CHECK_THROWS_AS(find_surge(record, interval, {0, 5, 20, 101}, band), std::invalid_argument);
    CHECK_THROWS_AS(find_surge(record, 0, {0, 5, 20, 100}, band), std::invalid_argument);
    CHECK_THROWS_AS(find_surge(record, interval, {0, 5, 20, 100}, 0), std::invalid_argument);
    std::vector<double> broken(100, 1.0);
    broken[50] = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_AS(find_surge(broken, interval, {0, 5, 20, 100}, band), std::invalid_argument);
}
