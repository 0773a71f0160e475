// The eigenvalues against the motion itself: a small kick at (flow, air) either side of the limit of hunting must grow or
// decay at the rate, and swing at the frequency, that the worst mode says.
#include "sim/integrate.h"
#include "sim/modes.h"
#include "tests/reference_stage.h"
#include "tests/relative.h"

#include <Eigen/LU>
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace {

using namespace needleturn;
using reference::litre;
using tests::relative;

struct Motion {
    double growth = 0, frequency = 0;
};

/// Kicks the steady state along the eigenvector of `mode` (scaled by typical sizes) and fits the run's own projection on the
/// left eigenvector, which sees this mode alone: z(t) = z(0) exp(lambda t).
Motion motion_after_kick(sim::System<models::Station>& system, const Eigen::VectorXd& rest,
                         const sim::Mode& mode) {
    const auto dynamic = sim::Instant(system, 0).dynamic_states();
    const auto& states = system.model().states();
    const Eigen::MatrixXcd jacobian =
        Eigen::MatrixXd(sim::Instant(system, 0).scaled_jacobian(rest)).cast<std::complex<double>>();
    const Eigen::Index n = jacobian.rows();
    const auto lu =
        (jacobian - mode.eigenvalue * (1 + 1e-9) * Eigen::MatrixXcd::Identity(n, n)).partialPivLu();
    Eigen::VectorXcd right = Eigen::VectorXcd::Ones(n), left = right;
    for (int i = 0; i < 3; ++i) {
        right = lu.solve(right).eval().normalized();
        left = lu.transpose().solve(left).eval().normalized();
    }
    Eigen::VectorXd typical(n);
    for (Eigen::Index i = 0; i < n; ++i)
        typical[i] = states[static_cast<std::size_t>(dynamic[static_cast<std::size_t>(i)])].typical;
    Eigen::VectorXd y = rest;
    constexpr double kick = 1e-5; // of the typical sizes: 1 Pa where 1 bar matters
    y(dynamic) += kick * right.real().cwiseProduct(typical) / right.cwiseAbs().maxCoeff();
    const auto seen = [&](const Eigen::VectorXd& state) -> std::complex<double> {
        const Eigen::VectorXd away = (state(dynamic) - rest(dynamic)).cwiseQuotient(typical);
        return (left.transpose() * away.cast<std::complex<double>>())(0);
    };
    const auto before = seen(y);
    double turned = 0, angle = std::arg(before), end = 0;
    std::complex<double> after = before;
    sim::Counts counts;
    // Five periods, but no further than a hundredfold: the motion must stay small.
    const double duration = std::min(5 / mode.frequency, std::log(100) / std::abs(mode.eigenvalue.real()));
    sim::integrate(system, y, 0, duration, sim::Tolerance{1e-9}, counts, [&](const auto& stepper) {
        after = seen(stepper.current_state());
        turned += std::remainder(std::arg(after) - angle, 2 * std::numbers::pi);
        angle = std::arg(after);
        end = stepper.current_time();
    });
    return {std::log(std::abs(after) / std::abs(before)) / end, turned / (2 * std::numbers::pi * end)};
}

} // namespace

TEST_CASE("a small kick grows or decays, and swings, as the eigenvalue says: fifteen flows and airs about "
          "the limit") {
    const models::Station station(reference::parts());
    std::size_t growing = 0, decaying = 0;
    for (const double air : {0.0, 20e-6, 100e-6})
        for (const double flow : {1.0, 3.0, 5.0, 8.0, 14.0}) {
            CAPTURE(air);
            CAPTURE(flow);
            sim::System system(station, reference::drives(Schedule(reference::demand_for(flow * litre))));
            const auto y = reference::steady_start(station, system, air);
            const auto modes = sim::find_modes(system, 0, y);
            const auto mode = std::ranges::find_if(
                modes, [](const sim::Mode& m) { return m.oscillates() && m.frequency < 20; });
            REQUIRE(mode != modes.end());
            const auto motion = motion_after_kick(system, y, *mode);
            CHECK(motion.growth
                  == relative(
                      mode->eigenvalue.real(),
                      0.05)); // what is left of the non-linear at 1e-5 and of the stepper is far smaller
            CHECK(motion.frequency == relative(mode->frequency, 0.05));
            ++(mode->eigenvalue.real() > 0 ? growing : decaying);
        }
    CHECK(growing >= 4);
    CHECK(decaying >= 4);
}
