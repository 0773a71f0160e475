#include "sim/modes.h"
#include "sim/equilibrium.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double omega = 30, zeta = 0.02;

/// A damped oscillator, a lag of 0.1 s, an amount that pushes on it and a meter of its travel.
class Oscillator {
  public:
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
    REQUIRE(modes.size() == 2); // amounts and meters take no part
    CHECK(modes[0].oscillates());
    CHECK(modes[0].frequency == relative(omega * std::sqrt(1 - zeta * zeta) / (2 * std::numbers::pi), 1e-12));
    CHECK(modes[0].damping_ratio == relative(zeta, 1e-12));
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
