#include "sim/modes.h"
#include "sim/equilibrium.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <Eigen/SparseCore>

#include <cmath>
#include <numbers>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

/// A damped oscillator, a lag of 0.1 s, an amount that pushes on it and a meter of its travel.
class Oscillator {
  public:
    static constexpr double omega = 30, zeta = 0.02;

    const std::vector<Quantity>& states() const { return states_; }
    const std::vector<Quantity>& drives() const { return none_; }
    const std::vector<Quantity>& signals() const { return none_; }
    void observe(std::span<const double>, std::span<double>) const {}

    template <class On> void visit_storages(On&&) const {}
    template <class On> void visit_elements(On&& on) const {
        on(reads(0, 2, 3), writes(0, 2, 4), [](auto v, auto x, auto air) {
            return rates(omega * omega * (air - x) - 2.0 * zeta * omega * v, v, x);
        });
        on(reads(1), writes(1), [](auto lag) { return rates(-10.0 * lag); });
    }

  private:
    std::vector<Quantity> states_{{"stem.velocity", "m s-1", 1e-2, ""},
                                  {"gauge.reading", "Pa", 1e5, ""},
                                  {"stem.lift", "m", 1e-3, ""},
                                  {"cover.air", "mol", 1e-2, "", Role::amount},
                                  {"outlet.delivered", "m3", 1, "", Role::meter}};
    std::vector<Quantity> none_;
};

} // namespace

TEST_CASE("the modes of a damped oscillator have its frequency and damping, the least damped first") {
    const Oscillator model;
    const sim::System system(model, {});
    const auto modes = find_modes(system, 0, Eigen::VectorXd::Zero(5));
    constexpr double undamped = Oscillator::omega, ratio = Oscillator::zeta;
    REQUIRE(modes.size() == 2); // amounts and meters take no part
    CHECK(modes[0].oscillates());
    CHECK(modes[0].frequency
          == relative(undamped * std::sqrt(1 - ratio * ratio) / (2 * std::numbers::pi), 1e-12));
    CHECK(modes[0].damping_ratio == relative(ratio, 1e-12));
    CHECK_FALSE(modes[1].oscillates());
    CHECK(modes[1].eigenvalue.real() == relative(-10, 1e-12));
    CHECK(modes[1].damping_ratio == relative(1, 1e-12));
}

TEST_CASE("at equilibrium an amount keeps its value and the rest answers to it, a meter is left alone") {
    const Oscillator model;
    const sim::System system(model, {});
    const auto y = find_equilibrium(system, 0, Eigen::VectorXd{{1, 1, 1, 0.02, 5}});
    CHECK(y[2] == relative(0.02, 1e-12));
    CHECK(std::abs(y[0]) < 1e-12);
    CHECK(y[3] == 0.02);
    CHECK(y[4] == 5);
}

/// Two stems of 1 kg that stick, each on a spring of its own beside its friction, and a lag that reads the first. States of a stem:
/// speed, place, and what its friction holds.
class Stuck {
  public:
    const std::vector<Quantity>& states() const { return states_; }
    const std::vector<Quantity>& drives() const { return none_; }
    const std::vector<Quantity>& signals() const { return none_; }
    void observe(std::span<const double>, std::span<double>) const {}

    template <class On> void visit_storages(On&&) const {}
    template <class On> void visit_elements(On&& on) const {
        for (const std::size_t stem : {std::size_t{0}, std::size_t{3}})
            on(reads(stem, stem + 1, stem + 2), writes(stem, stem + 1, stem + 2), [](auto v, auto x, auto z) {
                return rates(1.0 - own_spring * x - presliding_spring * z - damping * v, v, 0.5 * v);
            });
        on(reads(6, 1), writes(6), [](auto lag, auto x) { return rates(10.0 * (x - lag)); });
    }
    static constexpr double own_spring = 400, presliding_spring = 6400, damping = 3;

  private:
    std::vector<Quantity> states_{{"one.speed", "m s-1", 1e-2, ""},
                                  {"one.place", "m", 1e-3, "", Role::dynamic, "one"},
                                  {"one.held", "m", 2e-5, "", Role::held, "one"},
                                  {"two.speed", "m s-1", 1e-2, ""},
                                  {"two.place", "m", 1e-3, ""},
                                  {"two.held", "m", 1e-5, "", Role::held},
                                  {"gauge.reading", "m", 1e-3, ""}};
    std::vector<Quantity> none_;
};

TEST_CASE("what friction holds is kept at equilibrium and goes with its stem in modes") {
    const Stuck model;
    const sim::System system(model, {});
    const auto y = find_equilibrium(system, 0, Eigen::VectorXd{{0, 0, 1e-5, 0, 0, -2e-5, 0}});
    CHECK(y[2] == 1e-5);
    CHECK(y[5] == -2e-5);
    CHECK(y[1] == relative((1 - 6400 * 1e-5) / 400, 1e-9));
    CHECK(y[4] == relative((1 + 6400 * 2e-5) / 400, 1e-9));
    const auto modes = find_modes(system, 0, y);
    // No motion of the states held by themselves: a lag and two equal oscillations, on both springs.
    REQUIRE(modes.size() == 3);
    const double stiffness = Stuck::own_spring + 0.5 * Stuck::presliding_spring;
    for (const std::size_t i : {0U, 1U}) {
        CHECK(std::abs(modes[i].eigenvalue) == relative(std::sqrt(stiffness), 1e-9));
        CHECK(modes[i].eigenvalue.real() == relative(-0.5 * Stuck::damping, 1e-6));
    }
    CHECK(modes[2].eigenvalue.real() == relative(-10, 1e-9));
    const auto parts = participation(sim::Instant(system, 0), y, modes[2]);
    CHECK(parts[0].part == "gauge.reading");
}

TEST_CASE("a negative damping ratio says that a mode grows") {
    const auto model = tests::small_model(
        std::array{1.0, 1.0}, [](const auto& v) { return rates(v[1], -4.0 * v[0] + 0.4 * v[1]); });
    const sim::System system(model, {});
    const auto modes = find_modes(system, 0, Eigen::VectorXd::Zero(2));
    REQUIRE(modes.size() == 1);
    CHECK(modes[0].damping_ratio == relative(-0.1, 1e-12));
}

TEST_CASE("where the equations have no derivative there are no modes, and that is said") {
    const auto model = tests::small_model(std::array{1.0}, [](const auto& v) { return rates(-sqrt(v[0])); });
    const sim::System system(model, {});
    CHECK_THROWS_AS(find_modes(system, 0, Eigen::VectorXd::Zero(1)), std::domain_error);
}

TEST_CASE("a mode belongs to the states that make it, whatever their units") {
    const Oscillator model;
    const sim::System system(model, {});
    const Eigen::VectorXd y = Eigen::VectorXd::Zero(5);
    const auto modes = find_modes(system, 0, y);
    const auto swinging = participation(sim::Instant(system, 0), y, modes[0]);
    // Speed and travel of an oscillator take equal shares; the lag beside it has none.
    CHECK(swinging[0].share == relative(0.5, 1e-9));
    CHECK(swinging[1].share == relative(0.5, 1e-9));
    CHECK(swinging[2].part == "gauge.reading");
    CHECK(swinging[2].share < 1e-9);
    const auto lagging = participation(sim::Instant(system, 0), y, modes[1]);
    CHECK(lagging[0].part == "gauge.reading");
    CHECK(lagging[0].share == relative(1, 1e-9));
}

TEST_CASE("of a large matrix the modes that grow are found among hundreds that decay, from 0.1 to 200 Hz") {
    // Two-by-two blocks with known eigenvalues, mixed by a similarity that couples neighbours.
    constexpr Eigen::Index pairs = 160;
    for (const double frequency : {0.1, 1.0, 3.3, 15.0, 60.0, 200.0})
        for (const double damping_ratio : {-0.3, -0.01, -0.001}) {
            CAPTURE(frequency);
            CAPTURE(damping_ratio);
            std::vector<Eigen::Triplet<double>> entries, shear;
            for (Eigen::Index k = 0; k < pairs; ++k) {
                // Decaying waves of 1 to 80 Hz like a long pipe's, damping ratios from 0.002 on.
                const bool grows = k == 37;
                const double omega =
                    2 * std::numbers::pi * (grows ? frequency : 1.0 + 0.5 * static_cast<double>(k));
                const double zeta = grows ? damping_ratio : 0.002 + 1e-3 * static_cast<double>(k % 7);
                const auto i = 2 * k;
                entries.emplace_back(i, i, -zeta * omega);
                entries.emplace_back(i + 1, i + 1, -zeta * omega);
                entries.emplace_back(i, i + 1, omega * std::sqrt(1 - zeta * zeta));
                entries.emplace_back(i + 1, i, -omega * std::sqrt(1 - zeta * zeta));
            }
            Eigen::SparseMatrix<double> blocks(2 * pairs, 2 * pairs), mixing(2 * pairs, 2 * pairs),
                unmixing = mixing;
            blocks.setFromTriplets(entries.begin(), entries.end());
            mixing.setIdentity();
            unmixing.setIdentity();
            for (Eigen::Index i = 0; i + 2 < 2 * pairs; i += 4) {
                mixing.coeffRef(i, i + 2) = 0.7;
                unmixing.coeffRef(i, i + 2) = -0.7;
            }
            const Eigen::SparseMatrix<double> jacobian = mixing * blocks * unmixing;
            const auto modes = sim::leading_modes(jacobian);
            REQUIRE(!modes.empty());
            const double omega = 2 * std::numbers::pi * frequency;
            CHECK(modes.front().eigenvalue.real() == relative(-damping_ratio * omega, 1e-5));
            CHECK(modes.front().frequency
                  == relative(frequency * std::sqrt(1 - damping_ratio * damping_ratio), 1e-6));
            CHECK(!modes.at(1).grows());
        }
}
