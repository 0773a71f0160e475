/// The unit step response of a second-order system of damping ratio z and natural frequency 1 rad/s,
///     y = 1 - exp(-z t) (cos(w t) + z/w sin(w t)),   w = sqrt(1 - z^2),
/// has closed-form metrics, found in any textbook of control: overshoot exp(-pi z/w), log decrement 2 pi z/w,
/// decay ratio exp(-2 pi z/w). The settling times are the last crossings of the 2 % band, computed from y by
/// root finding.
#include "sim/hunting.h"
#include "sim/surge.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <vector>

using namespace needleturn::sim;

namespace {

struct Published {
    double damping, overshoot, log_decrement, decay_ratio, settling_time;
};

constexpr double interval = 0.001;

std::vector<double> step_response(double damping) {
    const double w = std::sqrt(1 - damping * damping);
    std::vector<double> y;
    for (int i = 0; i <= 250000; ++i) {
        const double t = i * interval;
        y.push_back(1 - std::exp(-damping * t) * (std::cos(w * t) + damping / w * std::sin(w * t)));
    }
    return y;
}

} // namespace

TEST_CASE("a second-order step has the published overshoot, decrement, decay ratio and settling time") {
    for (const auto& expected : {Published{0.1, 0.729248, 0.631484, 0.531802, 38.383},
                                 Published{0.2, 0.526621, 1.282550, 0.277329, 19.602},
                                 Published{0.5, 0.163034, 3.627599, 0.0265799, 8.0763}}) {
        CAPTURE(expected.damping);
        const auto y = step_response(expected.damping);

        const auto surge = find_surge(y, interval, {0, 0, 0, y.size()}, 0.02);
        // Six digits printed; the settled value is right to exp(-18).
        CHECK(surge.overshoot_fraction == doctest::Approx(expected.overshoot).epsilon(2e-6));
        CHECK(surge.settling_time
              == doctest::Approx(expected.settling_time).epsilon(2e-5)); // five digits printed

        const auto hunting = find_hunting(y, interval, 1e-6);
        CHECK(hunting.kind == Hunting::Kind::ringing_down);
        CHECK(hunting.log_decrement == doctest::Approx(expected.log_decrement).epsilon(2e-6));
        CHECK(std::exp(-hunting.log_decrement) == doctest::Approx(expected.decay_ratio).epsilon(5e-6));
        const double w = std::sqrt(1 - expected.damping * expected.damping);
        CHECK(2 * std::numbers::pi * hunting.frequency == doctest::Approx(w).epsilon(1e-6));
    }
}

TEST_CASE("quarter decay is a damping ratio of 0.21545") {
    const auto hunting = find_hunting(step_response(0.21545), interval, 1e-6);
    CHECK(std::exp(-hunting.log_decrement)
          == doctest::Approx(0.25).epsilon(5e-5)); // five digits of the ratio
}
