/// The limit cycle of the van der Pol oscillator, x'' - m (1 - x^2) x' + x = 0, in time and amplitude:
/// P. Amore, "Computing the solutions of the van der Pol equation to arbitrary precision", arXiv 2111.12198,
/// gives tables of both; the values below were computed to the digits shown and agree with it.
#include "sim/hunting.h"

#include <boost/numeric/odeint.hpp>
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numbers>
#include <vector>

using namespace needleturn::sim;

namespace {

constexpr double interval = 0.005; // of the oscillator's own time: over 1200 samples per cycle
constexpr double threshold = 0.01;

std::vector<double> position(double m, std::array<double, 2> x, double from, double to) {
    namespace odeint = boost::numeric::odeint;
    using State = std::array<double, 2>;
    const auto oscillator = [m](const State& s, State& rate, double) {
        rate = {s[1], m * (1 - s[0] * s[0]) * s[1] - s[0]};
    };
    auto stepper = odeint::make_controlled(1e-12, 1e-12, odeint::runge_kutta_dopri5<State>());
    if (from > 0)
        odeint::integrate_adaptive(stepper, oscillator, x, 0.0, from, interval);
    std::vector<double> samples{x[0]};
    for (long i = 0; i < std::lround((to - from) / interval); ++i) {
        odeint::integrate_adaptive(stepper, oscillator, x, 0.0, interval, interval);
        samples.push_back(x[0]);
    }
    return samples;
}

struct Published {
    double m, period, amplitude, settled_after;
};

} // namespace

TEST_CASE("the limit cycle of van der Pol is sustained with the published period and amplitude") {
    // The way to the limit cycle shrinks as exp(-m t) or faster: to 1e-13 before the window begins.
    for (const auto& expected :
         {Published{0.1, 6.287111, 2.000104, 300}, Published{1, 6.66328686, 2.00861986, 60}}) {
        CAPTURE(expected.m);
        const auto x = position(expected.m, {2, 0}, expected.settled_after, expected.settled_after + 150);
        const auto hunting = find_hunting(x, interval, threshold);
        CHECK(hunting.kind == Hunting::Kind::sustained);
        // Seven digits are printed for m = 0.1. A parabola through samples 0.005 apart finds crests to 1e-9,
        // and the line taken out as drift, with a slope of 1e-3 or less, changes a swing by the square of
        // that.
        CHECK(1 / hunting.frequency == doctest::Approx(expected.period).epsilon(2e-7));
        CHECK(hunting.peak_to_peak / 2 == doctest::Approx(expected.amplitude).epsilon(1e-6));
        CHECK(std::abs(hunting.log_decrement) < 1e-6);
    }
}

TEST_CASE("van der Pol is growing on its way up to the limit cycle and sustained once there") {
    const auto early = find_hunting(position(0.1, {0.01, 0}, 0, 60), interval, threshold);
    CHECK(early.kind == Hunting::Kind::growing);
    // Small amplitudes grow as exp(m t/2). At the end, x is 0.15 and the growth down by (x/2)^2.
    CHECK(early.log_decrement == doctest::Approx(-std::numbers::pi * 0.1).epsilon(0.005));

    const auto whole = find_hunting(position(0.1, {0.01, 0}, 0, 400), interval, threshold);
    CHECK(whole.kind == Hunting::Kind::sustained);
    CHECK(whole.peak_to_peak / 2 == doctest::Approx(2.000104).epsilon(1e-5));

    const auto from_outside = find_hunting(position(0.1, {8, 0}, 0, 150), interval, threshold);
    CHECK(from_outside.kind == Hunting::Kind::sustained);
    CHECK(from_outside.peak_to_peak / 2 == doctest::Approx(2.000104).epsilon(1e-4)); // exp(-0.1 t) at t = 125
}

TEST_CASE("negative control: a sinusoid that decays with damping ratio 0.02 does not hunt") {
    const double damping = 0.02;
    const double w = std::sqrt(1 - damping * damping);
    for (const double duration : {40.0, 150.0, 600.0}) {
        CAPTURE(duration);
        std::vector<double> x;
        for (long i = 0; i <= std::lround(duration / interval); ++i) {
            const double t = static_cast<double>(i) * interval;
            x.push_back(2 * std::exp(-damping * t) * std::cos(w * t));
        }
        const auto hunting = find_hunting(x, interval, threshold);
        CHECK(hunting.kind == Hunting::Kind::ringing_down);
        // The line taken out as drift has a slope b, 6 A/(w L^2) at worst for a length L of A cos(w t), L
        // being half the duration. It changes a swing by the square of b/(A w): up to 2e-4 in the shortest
        // window, and, since the later ones are smaller and change more, the decrement of 0.126 by 1e-3. It
        // falls with L^4.
        const double tolerance = duration < 100 ? 2e-3 : 2e-5;
        CHECK(hunting.log_decrement
              == doctest::Approx(2 * std::numbers::pi * damping / w).epsilon(tolerance));
    }
}
