#include "sim/equilibrium.h"
#include "sim/integrate.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

namespace {

using namespace needleturn;
using tests::relative;

/// A ball in the double well x^4/4 - x^2/2, rolling with little friction: rests at -1 and 1, balances at 0.
const auto double_well = tests::small_model(std::array{1.0, 1.0}, [](const auto& u) {
    const auto& [x, v] = u;
    return rates(v, x - x * x * x - 0.1 * v);
});

template <class M> std::string complaint(const M& model, const Eigen::VectorXd& start) {
    const sim::System system(model, {});
    try {
        find_equilibrium(system, 2.5, start);
    } catch (const sim::NoEquilibrium& none) {
        return none.what();
    }
    return "";
}

} // namespace

TEST_CASE("a balance that no motion would stay in is found as well as a rest") {
    const sim::System system(double_well, {});
    for (const double x : {-0.3, 0.05, 0.3})
        CHECK(std::abs(find_equilibrium(system, 0, Eigen::VectorXd{{x, 0.2}})[0]) < 1e-12);
    for (const double x : {0.8, 1.5, 4.0})
        CHECK(find_equilibrium(system, 0, Eigen::VectorXd{{x, 0.2}})[0] == relative(1, 1e-12));
}

TEST_CASE("a start a thousand typical sizes away does not hinder the search") {
    const auto model = tests::small_model(std::array{1e-3, 1e-2}, [](const auto& u) {
        const auto& [x, v] = u;
        return rates(v, 900.0 * (0.02 - x) - v);
    });
    const sim::System system(model, {});
    CHECK(find_equilibrium(system, 0, Eigen::VectorXd{{1, 1}})[0] == relative(0.02, 1e-12));
}

TEST_CASE("the root of a root is found from either side, although its slope there has no bound on one") {
    // A tank of level h, filled by 1, emptied by sqrt(h): h = 1. Newton's first step from 25 would go below
    // zero.
    const auto model =
        tests::small_model(std::array{1.0}, [](const auto& u) { return rates(1.0 - sqrt(u[0])); });
    const sim::System system(model, {});
    for (const double h : {1e-6, 0.5, 25.0, 1e4})
        CHECK(find_equilibrium(system, 0, Eigen::VectorXd{{h}})[0] == relative(1, 1e-12));
}

TEST_CASE("where Newton's method meets a flat tangent the motion leads on") {
    // x' = 1 - x^3 from 0: the tangent is level. The velocity-free valve of a closed contact is like that.
    const auto model =
        tests::small_model(std::array{1.0}, [](const auto& u) { return rates(1.0 - u[0] * u[0] * u[0]); });
    const sim::System system(model, {});
    CHECK(find_equilibrium(system, 0, Eigen::VectorXd{{0}})[0] == relative(1, 1e-12));
}

TEST_CASE("rates that rounding keeps from vanishing do not keep the search from ending") {
    // A stiff chamber beside a slow tank: levels of 1e6 are known to 1e-10, the rates made of them to 1e-1 and 1e-5.
    const auto model = tests::small_model(std::array{1.0, 1.0}, [](const auto& u) {
        const auto& [p, level] = u;
        return rates(1e9 * (level - p) + 1.0, 1e-3 * (1e6 - level) + 1e5 * (p - level));
    });
    const sim::System system(model, {});
    const auto y = find_equilibrium(system, 0, Eigen::VectorXd{{5e5, 6e5}});
    CHECK(y[1]
          == relative(1e6, 1e-7)); // 1e-5 over 1e-3 is 1e-2: no arithmetic of this length finds it better
}

TEST_CASE("water shut in between closed valves rests at the pressure that it shares out") {
    // Two chambers joined by a restriction: the Jacobian is singular, any common pressure is a steady state.
    const auto model = tests::small_model(std::array{1.0, 1.0}, [](const auto& u) {
        const auto q = (u[0] - u[1]) * sqrt((u[0] - u[1]) * (u[0] - u[1]) + 1e-4);
        return rates(-1e3 * q, 2e3 * q);
    });
    const sim::System system(model, {});
    const auto y = find_equilibrium(system, 0, Eigen::VectorXd{{3, 0}});
    CHECK(y[0] == relative(2, 1e-9)); // 2 y1 + y2 = 6 does not change
    CHECK(y[1] == relative(2, 1e-9));
}

TEST_CASE("a system without a steady state is refused by the name of the state that will not rest") {
    const auto drifts = tests::small_model(std::array{1.0, 1.0},
                                           [](const auto& u) { return rates(-u[0], 1.0 + u[1] * u[1]); });
    const auto text = complaint(drifts, Eigen::VectorXd{{1, 0.3}});
    CAPTURE(text);
    CHECK(text.find("small.y2") != std::string::npos);
    CHECK(text.find("2.5") != std::string::npos);
    const auto constant = tests::small_model(std::array{1.0, 1.0},
                                             [](const auto& u) { return rates(0.0 * u[0] + 1.0, -u[1]); });
    CHECK(complaint(constant, Eigen::VectorXd{{1, 1}}).find("small.y1") != std::string::npos);
}

TEST_CASE("an equilibrium is where the motion stays") {
    sim::System system(double_well, {});
    const Eigen::VectorXd rest = find_equilibrium(system, 0, Eigen::VectorXd{{0.8, 0}});
    Eigen::VectorXd y = rest;
    sim::Counts counts;
    integrate(system, y, 0, 100, sim::Tolerance{1e-6}, counts, [](const auto&) {});
    CHECK((y - rest).norm() < 1e-12);
}
