/// Motions too small for the error control to see: they grow at their own rate, in one run and in lanes, and what decays
/// keeps its long steps.
#include "sim/integrate.h"
#include "sim/lanes.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

/// An oscillation with damping ratio v[2] and angular frequency v[3], beside a state that follows it slowly and does not
/// act on it.
const auto oscillator = tests::small_model<2>(std::array{1.0, 1.0}, [](const auto& v) {
    const auto omega = v[3];
    return rates(omega * v[1], -omega * v[0] - 2.0 * v[2] * omega * v[1]);
});

/// A state that grows or decays at the rate of its drive, 1/s.
const auto single = tests::small_model<1>(std::array{1.0}, [](const auto& v) { return rates(v[1] * v[0]); });

constexpr double start = 1e-12; // far below any tolerance
constexpr auto ignore = [](const auto&) {};

struct Grown {
    double factor;
    std::size_t steps;
};

Grown grown(double damping_ratio, double omega, double duration) {
    sim::System system(oscillator, {Schedule(damping_ratio), Schedule(omega)});
    Eigen::VectorXd y{{start, 0}};
    sim::Counts counts;
    integrate(system, y, 0, duration, sim::Tolerance{1e-4}, counts, ignore);
    return {y.norm() / start, counts.steps};
}

double exact(double damping_ratio, double omega, double duration) {
    return std::exp(-damping_ratio * omega * duration);
}

} // namespace

TEST_CASE("a growing oscillation far below the tolerance grows at its own rate, from 1 to 100 Hz") {
    // 1e5 times in all. The rate of Rodas5P at 1.5 / omega is within 10 % of the true one (computed from the tableau), and
    // the slope of the orbit's ellipse adds damping_ratio to the norm.
    for (const double frequency : {1.0, 3.3, 20.0, 100.0})
        for (const double damping_ratio : {-0.003, -0.03, -0.3}) {
            CAPTURE(frequency);
            CAPTURE(damping_ratio);
            const double omega = 2 * std::numbers::pi * frequency;
            const double duration = std::log(1e5) / (-damping_ratio * omega);
            const double rate = std::log(grown(damping_ratio, omega, duration).factor) / std::log(1e5);
            CHECK(rate == relative(std::log(exact(damping_ratio, omega, duration)) / std::log(1e5), 0.1));
        }
}

TEST_CASE("a quantity that grows without swinging grows at its own rate") {
    sim::System system(single, {Schedule(2)});
    Eigen::VectorXd y{{start}};
    sim::Counts counts;
    integrate(system, y, 0, 10, sim::Tolerance{1e-4}, counts, ignore);
    CHECK(std::log(y[0] / start) == relative(20, 0.01)); // the method is of order 5 at a step of 1.5 / rate
}

TEST_CASE("what decays keeps its long steps") {
    // From 0.1 ms the step is six times as long at every step: twelve reach 60 s.
    CHECK(grown(0.01, 20, 60).steps < 40);
    CHECK(grown(0.5, 2000, 60).steps < 40);
}

TEST_CASE("no mode asks for steps so short that nobody looks again") {
    const auto longest = [](double omega) {
        sim::System system(oscillator, {Schedule(-0.01), Schedule(omega)});
        std::vector<double> entries(system.lu().entries() + system.size());
        const Eigen::VectorXd y = Eigen::VectorXd::Zero(2);
        system.jacobian(0, y.data(), entries.data());
        return sim::growth::longest_faithful_step(oscillator.states(), system.lu(), entries.data());
    };
    CHECK(longest(100) == relative(sim::growth::faithful / 100, 1e-6));
    CHECK(longest(3e4) == sim::growth::short_step);
}

TEST_CASE("growth that begins in the middle of a slow ramp is not slept through") {
    // The damping ratio goes from 0.02 to -0.02 in 200 s, at 2 Hz: the motion falls for 100 s and then grows as much.
    Schedule damping(0.02);
    damping.then({0, -0.02, 200});
    const double omega = 4 * std::numbers::pi;
    sim::System system(oscillator, {damping, Schedule(omega)});
    Eigen::VectorXd y{{start, 0}};
    sim::Counts counts;
    double least = 1;
    integrate(system, y, 0, 200, sim::Tolerance{1e-4}, counts,
              [&](const auto& stepper) { least = std::min(least, stepper.current_state().norm() / start); });
    // Long steps of the decaying half damp more than the oscillator does (that is no danger); from the middle on all of the
    // growth is there: the integral of 0.02 omega (1 - t / 100 s) over 100 s.
    const double growth = 0.02 * omega * 50;
    CHECK(std::log(y.norm() / start / least) > 0.9 * growth);
}

TEST_CASE("lanes show the same growth as single runs, each its own") {
    constexpr std::size_t W = 4;
    const std::array<double, W> damping_ratios{-0.02, 0.02, -0.1, -0.005};
    const double omega = 20, duration = 30;
    sim::Lanes<decltype(oscillator), W> lanes(oscillator, {1e-4});
    std::array<double, W> factor{};
    for (std::size_t lane = 0; lane < W; ++lane)
        lanes.start(lane, Eigen::VectorXd{{start, 0}}, 0, {duration},
                    {Ramp{0, damping_ratios[lane], 0}, Ramp{0, omega, 0}});
    while (!lanes.all_free())
        lanes.advance(
            [&](const auto& taken) {
                Eigen::Vector2d y;
                taken.calc_state(taken.current_time(), y.data());
                factor[taken.lane()] = y.norm() / start;
            },
            [](std::size_t, double) { return std::vector<Ramp>{}; }, [](std::size_t) {},
            [](std::size_t) { FAIL("stuck"); });
    for (std::size_t lane = 0; lane < W; ++lane) {
        CAPTURE(damping_ratios[lane]);
        // To rounding: lanes are the arithmetic of the single run but for powers in the step control.
        CHECK(std::log(factor[lane])
              == relative(std::log(grown(damping_ratios[lane], omega, duration).factor), 1e-3));
    }
}
