// The cycle of the normal form of a subcritical Hopf bifurcation, followed to its fold by the program's own follower:
//     r' = mu r + r^3 - r^5,  phi' = 1.
// S. H. Strogatz, Nonlinear Dynamics and Chaos, section 8.2: the rest state begins to grow at mu = 0; the cycle, which has
// r^2 = (1 + sqrt(1 + 4 mu)) / 2, ends in a fold at mu = -1/4 with r = sqrt(1/2). As the counterpart the supercritical one,
// r' = mu r - r^3, whose cycle r = sqrt(mu) vanishes at mu = 0, where rest begins to grow.

#include "sim/cycle_branch.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numbers>

namespace {

using namespace needleturn;
using tests::relative;
using End = sim::CycleBranch::End;

constexpr double turn = 2 * std::numbers::pi;

/// x' = growth x - y, y' = growth y + x with the growth as a function of mu and r^2.
template <class Growth> auto turning(Growth growth) {
    return tests::small_model<1>(std::array{1.0, 1.0}, [growth](const auto& u) {
        const auto& [x, y, mu] = u;
        const auto rate = growth(mu, x * x + y * y);
        return rates(rate * x - y, rate * y + x);
    });
}
const auto subcritical = turning([](const auto& mu, const auto& r2) { return mu + r2 - r2 * r2; });
const auto supercritical = turning([](const auto& mu, const auto& r2) { return mu - r2; });

/// The fate of a model with one drive, as a function of that drive; `growth` of its rest state is mu. What is still to come
/// of a change counts from a thousandth on: the amplitudes are asked to 1e-3.
template <class M> sim::FateAt fate_in(const M& model, double threshold, double period = turn) {
    return [&model, threshold, period](double mu, const Eigen::VectorXd& y) {
        sim::System system(model, {Schedule(mu)});
        sim::Counts counts;
        const sim::FateQuestion question{.threshold = threshold,
                                         .period = period,
                                         .longest = 2000 * period,
                                         .growth = mu,
                                         .settled = 1e-3};
        return fate_of(system, y, 0, question, sim::Tolerance{1e-7}, counts);
    };
}

} // namespace

TEST_CASE("the cycle of a subcritical Hopf bifurcation is followed to its fold at mu = -1/4") {
    const auto fate_at = fate_in(subcritical, 0.02);
    const auto start =
        fate_at(0.1, Eigen::VectorXd{{0.01, 0}}); // from beside the rest state, which grows there
    REQUIRE(start.kind == sim::Fate::Kind::cycles);
    // In steps that do not by chance land on the fold.
    const auto branch =
        follow_cycle(fate_at, start, {.from = 0.1, .to = -1, .step = 0.03, .precision = 2e-4});
    CHECK(branch.end == End::fold);
    CHECK(branch.at == relative(-0.25, 1e-3));
    CHECK(branch.amplitude == relative(2 * std::sqrt(0.5), 1e-3));
    CHECK(branch.uncertainty < 1e-3);
    CHECK(std::abs(branch.at + 0.25) <= branch.uncertainty);
    for (const auto& [mu, fate] : branch.points) {
        CAPTURE(mu);
        // 1e-3 still to come where it is called settled, and as much for what that does not foresee beside the fold.
        CHECK(fate.peak_to_peak == relative(2 * std::sqrt(0.5 * (1 + std::sqrt(1 + 4 * mu))), 2e-3));
        CHECK(fate.frequency == relative(1 / turn, 1e-3));
    }
    // Between the fold and mu = 0 it rests, but hunts once knocked.
    CHECK(branch.at < 0);
    CHECK(fate_at(-0.1, Eigen::VectorXd{{0.01, 0}}).kind == sim::Fate::Kind::rests);
}

TEST_CASE("the cycle of a supercritical Hopf bifurcation vanishes where rest begins to grow") {
    constexpr double threshold = 0.02; // sqrt(mu) = 0.01 at mu = 1e-4
    const auto fate_at = fate_in(supercritical, threshold);
    const auto start = fate_at(0.2, Eigen::VectorXd{{1, 0}});
    REQUIRE(start.kind == sim::Fate::Kind::cycles);
    const auto branch =
        follow_cycle(fate_at, start, {.from = 0.2, .to = -1, .step = 0.05, .precision = 1e-3});
    CHECK(branch.end == End::vanishes);
    CHECK(branch.amplitude == 0);
    CHECK(std::abs(branch.at) < 1e-3);
    for (const auto& [mu, fate] : branch.points) {
        CAPTURE(mu);
        CHECK(mu > -1e-3); // no band in which it rests and yet goes on hunting
        CHECK(fate.peak_to_peak == relative(2 * std::sqrt(mu), 2e-3));
    }
}

TEST_CASE("the follower finds van der Pol's cycle of the published amplitude and period, and that it "
          "vanishes at mu = 0") {
    // P. Amore, arXiv 2111.12198, as in van_der_pol_cycle.cpp. The rest state grows by mu / 2.
    const auto model = tests::small_model<1>(std::array{1.0, 1.0}, [](const auto& u) {
        const auto& [x, v, mu] = u;
        return rates(v, mu * (1.0 - x * x) * v - x);
    });
    const auto fate_at = fate_in(model, 0.02, 6.66);
    const auto start = fate_at(2, Eigen::VectorXd{{1, 0}});
    REQUIRE(start.kind == sim::Fate::Kind::cycles);
    const auto branch = follow_cycle(fate_at, start, {.from = 2, .to = 0.1, .step = 0.5, .precision = 0.01});
    CHECK(branch.end == End::none);
    CHECK(branch.points.size() == 5);
    for (const auto& [mu, fate] : branch.points) {
        CAPTURE(mu);
        const double amplitude = mu == 1 ? 2.00861986 : mu == 0.1 ? 2.000104 : 0;
        const double period = mu == 1 ? 6.66328686 : 6.287111;
        if (amplitude > 0) {
            CHECK(fate.peak_to_peak == relative(2 * amplitude, 1e-3)); // FateQuestion::settled
            CHECK(fate.frequency == relative(1 / period, 1e-3));
        }
    }
}
