#include "sim/fate.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>

namespace {

using namespace needleturn;
using tests::relative;
using Kind = sim::Fate::Kind;

constexpr double turn = 2 * std::numbers::pi;

/// x'' = -2 zeta x' - x about the drive.
auto spring(double zeta) {
    return tests::small_model<1>(std::array{1.0, 1.0}, [zeta](const auto& u) {
        const auto& [x, v, rest] = u;
        return rates(v, -2 * zeta * v - (x - rest));
    });
}

/// The normal form of a subcritical Hopf bifurcation with its fold, r' = mu r + r^3 - r^5, phi' = 1; S. H. Strogatz,
/// Nonlinear Dynamics and Chaos, section 8.2: the cycle has r^2 = (1 + sqrt(1 + 4 mu)) / 2 down to mu = -1/4.
const auto subcritical = tests::small_model<1>(std::array{1.0, 1.0}, [](const auto& u) {
    const auto& [x, y, mu] = u;
    const auto r2 = x * x + y * y;
    const auto growth = mu + r2 - r2 * r2;
    return rates(growth * x - y, growth * y + x);
});

/// r' = mu r - r^3.
const auto supercritical = tests::small_model<1>(std::array{1.0, 1.0}, [](const auto& u) {
    const auto& [x, y, mu] = u;
    const auto growth = mu - x * x - y * y;
    return rates(growth * x - y, growth * y + x);
});

template <class M>
sim::Fate fate(const M& model, double drive, Eigen::VectorXd y, const sim::FateQuestion& question) {
    sim::System system(model, {Schedule(drive)});
    sim::Counts counts;
    return fate_of(system, y, 0, question, sim::Tolerance{1e-7}, counts);
}

constexpr double longest = 3000;
const sim::FateQuestion plain{.threshold = 0.02, .period = turn, .longest = longest};

sim::FateQuestion known(double growth) {
    auto question = plain;
    question.growth = growth;
    return question;
}

} // namespace

TEST_CASE("a spring comes to rest, also where its decay is slow") {
    for (const double zeta : {0.1, 0.01, 0.002}) {
        CAPTURE(zeta);
        const auto found = fate(spring(zeta), 3, Eigen::VectorXd{{3.5, 0}}, known(-zeta));
        CHECK(found.kind == Kind::rests);
        CHECK(found.peak_to_peak == 0);
        CHECK(found.highest == relative(3.5, 1e-6));
        // The threshold of 0.02 is reached after ln(1/0.02) / zeta.
        CHECK(found.time < 1.4 * std::log(50) / zeta + 3 * 10 * turn);
    }
    CHECK(fate(spring(0.01), 3, Eigen::VectorXd{{3.5, 0}}, plain).kind == Kind::rests);
}

TEST_CASE("a decay too slow for the time is undecided and not a cycle") {
    // 10 periods take off 0.6 %: after 300 s the span is at 97 % of itself.
    auto question = known(-1e-4);
    question.longest = 300;
    CHECK(fate(spring(1e-4), 0, Eigen::VectorXd{{1, 0}}, question).kind == Kind::undecided);
    question.growth.reset();
    CHECK(fate(spring(1e-4), 0, Eigen::VectorXd{{1, 0}}, question).kind == Kind::undecided);
}

TEST_CASE("slow growth is no cycle before it has reached one") {
    CHECK(fate(spring(-2e-4), 0, Eigen::VectorXd{{1, 0}}, known(2e-4)).kind == Kind::undecided);
    CHECK(fate(spring(-2e-4), 0, Eigen::VectorXd{{1e-5, 0}}, known(2e-4)).kind == Kind::undecided);
}

TEST_CASE("standing exactly on a steady state that grows is not rest") {
    CHECK(fate(supercritical, 0.1, Eigen::VectorXd{{0, 0}}, known(0.1)).kind == Kind::undecided);
    CHECK(fate(supercritical, -0.1, Eigen::VectorXd{{0, 0}}, known(-0.1)).kind == Kind::rests);
}

TEST_CASE("van der Pol's oscillator goes from near rest to its cycle") {
    // Amplitude and period: P. Amore, arXiv 2111.12198 (tests/published/van_der_pol_cycle.cpp).
    const auto model = tests::small_model(std::array{1.0, 1.0}, [](const auto& u) {
        const auto& [x, v] = u;
        return rates(v, (1.0 - x * x) * v - x);
    });
    sim::System system(model, {});
    sim::Counts counts;
    auto question = known(0.5);
    question.also = {1};
    const auto found = fate_of(system, Eigen::VectorXd{{1e-6, 0}}, 7, question, sim::Tolerance{1e-7}, counts);
    CHECK(found.kind == Kind::cycles);
    CHECK_FALSE(found.irregular);
    // 256 samples a period; crests by a parabola.
    CHECK(found.peak_to_peak == relative(2 * 2.00861986, 1e-4));
    CHECK(found.span == relative(2 * 2.00861986, 1e-3));
    CHECK(found.frequency == relative(1 / 6.66328686, 1e-3));
    REQUIRE(found.spans.size() == 1);
    CHECK(found.spans[0] > found.span); // it moves faster than a sine of that amplitude
    CHECK(counts.steps > 100);
}

TEST_CASE("beside a cycle a small knock comes to rest and a large one does not") {
    for (const double mu : {-0.05, -0.2, -0.24}) {
        CAPTURE(mu);
        const double cycle = std::sqrt(0.5 * (1 + std::sqrt(1 + 4 * mu)));
        const double divide = std::sqrt(0.5 * (1 - std::sqrt(1 + 4 * mu)));
        CHECK(fate(subcritical, mu, Eigen::VectorXd{{0.9 * divide, 0}}, known(mu)).kind == Kind::rests);
        const auto found = fate(subcritical, mu, Eigen::VectorXd{{1.1 * divide, 0}}, known(mu));
        CHECK(found.kind == Kind::cycles);
        CHECK(found.peak_to_peak == relative(2 * cycle, 0.01)); // FateQuestion::settled
    }
}

TEST_CASE("a motion that lingers where a cycle has just vanished is no cycle") {
    // It needs about pi / sqrt(2 (-1/4 - mu)) to pass: 220 s, 700 s.
    for (const double beyond : {1e-4, 1e-5}) {
        CAPTURE(beyond);
        auto question = known(-0.25 - beyond);
        question.settled = 1e-3;
        CHECK(fate(subcritical, -0.25 - beyond, Eigen::VectorXd{{1, 0}}, question).kind == Kind::rests);
    }
}

TEST_CASE("a decay that slows down for ever is never called a cycle") {
    // r' = -r^3: r = 1 / sqrt(1 + 2 t), 0.0129 after 3000 s.
    auto question = plain;
    question.threshold = 1e-3;
    CHECK(fate(supercritical, 0, Eigen::VectorXd{{1, 0}}, question).kind == Kind::undecided);
}

TEST_CASE("a cycle smaller than the threshold is rest") {
    const double mu = 1e-2; // amplitude 0.1
    auto question = known(mu);
    CHECK(fate(supercritical, mu, Eigen::VectorXd{{1, 0}}, question).kind == Kind::cycles);
    question.threshold = 0.3;
    CHECK(fate(supercritical, mu, Eigen::VectorXd{{1, 0}}, question).kind == Kind::rests);
}

TEST_CASE(
    "growth that ends in a cycle far below the threshold is known to go no further, fast growth sooner") {
    // The cycle spans 2 sqrt(mu), a fifth of the threshold; from far inside it and from outside.
    for (const double mu : {0.09, 0.01})
        for (const double from : {1e-3, 2.0}) {
            CAPTURE(mu);
            CAPTURE(from);
            auto question = known(mu);
            question.threshold = 10 * std::sqrt(mu);
            const auto found = fate(supercritical, mu, Eigen::VectorXd{{from * std::sqrt(mu), 0}}, question);
            CHECK(found.kind == Kind::rests);
            CHECK(found.span == relative(2 * std::sqrt(mu), 0.01)); // FateQuestion::settled
            // Not before a small motion would have grown 1e5-fold.
            CHECK(found.time > std::log(1e5) / mu);
        }
    // Growth too slow for the time it is given stays open, though the cycle has been there all along.
    auto question = known(1e-3);
    question.threshold = 10 * std::sqrt(1e-3);
    CHECK(fate(supercritical, 1e-3, Eigen::VectorXd{{std::sqrt(1e-3), 0}}, question).kind == Kind::undecided);
}

TEST_CASE("a slower oscillation than was expected is still found") {
    auto question = known(0.1);
    question.period = turn / 20;
    const auto found = fate(supercritical, 0.1, Eigen::VectorXd{{0.1, 0}}, question);
    CHECK(found.kind == Kind::cycles);
    CHECK(found.frequency == relative(1 / turn, 1e-3));
}

TEST_CASE("irregular motion that never dies cycles, and is called irregular") {
    // E. N. Lorenz, J. Atmos. Sci. 20:130 (1963): sigma 10, r 28, b 8/3 never settles; z turns about each 0.75 s.
    const auto lorenz = tests::small_model(std::array{10.0, 10.0, 10.0}, [](const auto& u) {
        const auto& [x, y, z] = u;
        return rates(10.0 * (y - x), x * (28.0 - z) - y, x * y - 8.0 / 3 * z);
    });
    sim::System system(lorenz, {});
    sim::Counts counts;
    const sim::FateQuestion question{.watched = 2, .threshold = 1, .period = 0.75, .longest = 1000};
    const auto found =
        fate_of(system, Eigen::VectorXd{{1, 1, 20}}, 0, question, sim::Tolerance{1e-6}, counts);
    CHECK(found.kind == Kind::cycles);
    CHECK(found.irregular);
    CHECK(found.span > 1.2 * found.peak_to_peak);
    CHECK(found.frequency > 1);
}

TEST_CASE("the drives stand still at what they are at the beginning") {
    Schedule ramp(0);
    ramp.then({0, 10, 10});
    const auto model = spring(0.1);
    sim::System system(model, {ramp});
    system.enter(5);
    sim::Counts counts;
    const auto found = fate_of(system, Eigen::VectorXd{{5, 0}}, 5, known(-0.1), sim::Tolerance{1e-7}, counts);
    CHECK(found.kind == Kind::rests);
    CHECK(found.y[0] == relative(5, 1e-9));
    CHECK(system.ramps()[0](6) == relative(6, 1e-12)); // and go on in the system itself
}

TEST_CASE("who stops it gets no answer") {
    const auto model = spring(0.1);
    sim::System system(model, {Schedule(0)});
    sim::Counts counts;
    const auto found = fate_of(system, Eigen::VectorXd{{5, 0}}, 0, plain, sim::Tolerance{1e-7}, counts,
                               [] { return false; });
    CHECK(found.kind == Kind::undecided);
    CHECK(counts.steps == 0);
}

TEST_CASE("after the most steps that are allowed it is undecided") {
    const auto model = spring(0.1);
    sim::System system(model, {Schedule(0)});
    sim::Counts counts;
    auto question = plain;
    question.most_steps = 10;
    CHECK(fate_of(system, Eigen::VectorXd{{5, 0}}, 0, question, sim::Tolerance{1e-7}, counts).kind
          == Kind::undecided);
    CHECK(counts.steps == 10);
    question.most_steps = 400; // within the first ten periods it has swung from 5 to near -5 and back
    const auto found = fate_of(system, Eigen::VectorXd{{5, 0}}, 0, question, sim::Tolerance{1e-7}, counts);
    CHECK(found.kind == Kind::undecided);
    CHECK(found.span > 5);
}

TEST_CASE("a question without a threshold, a period or an end is refused") {
    for (const auto& wrong :
         {sim::FateQuestion{.threshold = 0, .period = 1, .longest = 1},
          sim::FateQuestion{.threshold = 1, .period = 0, .longest = 1},
          sim::FateQuestion{
              .threshold = 1, .period = 1, .longest = std::numeric_limits<double>::quiet_NaN()}})
        CHECK_THROWS_AS(sim::FateJudge{wrong}, std::invalid_argument);
}
