#include "sim/system.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <span>
#include <stdexcept>
#include <vector>

namespace {

using namespace needleturn;

/// Two pressure points, one a storage with a curved law, a flow between them, and a draw; several elements
/// write to the same states, one reads a state twice.
class Points {
  public:
    const std::vector<Quantity>& states() const { return states_; }
    const std::vector<Quantity>& drives() const { return drives_; }
    const std::vector<Quantity>& signals() const { return signals_; }
    void observe(std::span<const double>, std::span<double>) const {}

    template <class On> void visit_storages(On&& on) const {
        on(std::size_t{0}, [](auto stored) { return 2.0 * stored + stored * stored * stored; });
    }
    template <class On> void visit_elements(On&& on) const {
        on(reads(0, 1, 2), writes(0, 1, 2),
           [](auto p1, auto p2, auto q) { return rates(-q, 3.0 * q, p1 - p2 - q * sqrt(q * q + 0.01)); });
        on(reads(1, 3, 4), writes(1), [](auto p2, auto opening, auto head) {
            return rates(-opening * opening * sqrt(p2 * p2 + 1.0) * exp(0.1 * head));
        });
        on(reads(0, 0), writes(0, 2),
           [](auto p, auto again) { return rates(-0.2 * p * again, log(p * p + 2.0)); });
        on(reads(4), writes(0), [](auto head) { return rates(head * head); });
    }

  private:
    std::vector<Quantity> states_{
        {"inlet.pressure", "Pa", 1, ""}, {"outlet.pressure", "Pa", 1, ""}, {"line.flow", "m3 s-1", 1, ""}};
    std::vector<Quantity> drives_{{"demand.opening", "1", 1, ""}, {"supply.head", "m", 1, ""}};
    std::vector<Quantity> signals_;
};

/// d f(x) / dx at x by the sixth-order central difference.
template <class F> Eigen::VectorXd slope(const F& f, double x) {
    const double h = 1e-3;
    return (45 * (f(x + h) - f(x - h)) - 9 * (f(x + 2 * h) - f(x - 2 * h)) + f(x + 3 * h) - f(x - 3 * h))
           / (60 * h);
}

Schedule ramp(double from, double to) {
    Schedule schedule(from);
    schedule.then({0, to, 10});
    return schedule;
}

} // namespace

TEST_CASE("the Jacobian and the time derivative are those of the right-hand side") {
    const auto seed = std::random_device{}();
    INFO("seed ", seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> number(-1, 1);
    const Points model;
    const sim::System system(model, {ramp(0.5, 4), ramp(-1, 2)});
    // The differences are good to 1e-10: truncation (h / 0.1)^6, as q sqrt(q^2 + 0.01) bends over a tenth;
    // rounding 1e-16 / h times a few hundred.
    std::vector<double> matrix(system.lu().entries() + system.size());
    for (int repeat = 0; repeat < 20; ++repeat) {
        const Eigen::VectorXd y{{number(random), number(random), number(random)}};
        const double t = 4 + number(random);
        const Eigen::MatrixXd jacobian = system.dense_jacobian(t, y.data());
        for (Eigen::Index j = 0; j < 3; ++j) {
            const auto along = [&](double x) {
                Eigen::VectorXd at = y, rate(3);
                at[j] = x;
                system.rates(t, at.data(), rate.data());
                return rate;
            };
            CHECK((jacobian.col(j) - slope(along, y[j])).cwiseAbs().maxCoeff() < 1e-10);
        }
        const auto in_time = [&](double at) {
            Eigen::VectorXd rate(3);
            system.rates(at, y.data(), rate.data());
            return rate;
        };
        system.jacobian(t, y.data(), matrix.data());
        const Eigen::VectorXd by_time =
            Eigen::Map<const Eigen::VectorXd>(matrix.data() + system.lu().entries(), 3);
        CHECK((by_time - slope(in_time, t)).cwiseAbs().maxCoeff() < 1e-10);
    }
}

TEST_CASE("values are the laws of the storages, then the drives at that time") {
    const Points model;
    const sim::System system(model, {ramp(0.5, 4), ramp(-1, 2)});
    const Eigen::VectorXd y{{0.5, -3, 7}};
    std::vector<double> values(5);
    system.values(2, y.data(), values.data());
    const std::vector expected{2 * 0.5 + 0.125, -3.0, 7.0, 0.5 + 3.5 * 0.2, -1 + 3 * 0.2};
    for (std::size_t i = 0; i < values.size(); ++i)
        CHECK(values[i] == tests::relative(expected[i], 1e-15));
}

TEST_CASE("a jump shows in the drives only after the system has entered it") {
    const auto model = tests::small_model<1>(std::array{1.0}, [](const auto& v) { return rates(v[1]); });
    Schedule jump(1);
    jump.then({5, 3});
    sim::System system(model, {jump});
    const double y = 0;
    double rate = 0;
    system.rates(5, &y, &rate);
    CHECK(rate == 1);
    system.enter(5);
    system.rates(5, &y, &rate);
    CHECK(rate == 3);
}

TEST_CASE("breakpoints are the corners of all schedules strictly inside the run, once each and ascending") {
    const auto model =
        tests::small_model<2>(std::array{1.0}, [](const auto& v) { return rates(v[1] + v[2]); });
    Schedule a(0), b(0);
    a.then({1, 1, 2});
    a.then({8, 0});
    b.then({0, 1, 3});
    b.then({5, 2, 5});
    const sim::System system(model, {a, b});
    CHECK(system.breakpoints(0, 10) == std::vector<double>{1, 3, 5, 8});
    CHECK(system.breakpoints(1, 8) == std::vector<double>{3, 5});
    CHECK(system.breakpoints(20, 30).empty());
}

TEST_CASE("a change begins as the one before it ends, though their decimal fractions do not add up") {
    REQUIRE(1.6 + 0.1 > 1.7);
    Schedule a(0);
    a.then({1.6, 1, 0.1});
    a.then({1.7, 2, 0.5});
    CHECK(a.breakpoints() == std::vector<double>{1.6, 1.6 + 0.1, 1.6 + 0.1 + 0.5});
    CHECK(a(1.6 + 0.1) == 1);
    CHECK(a(1.6 + 0.1 + 0.25) == tests::relative(1.5, 1e-12));
    CHECK_THROWS_AS(a.then({2.199, 3}), std::invalid_argument);
}

TEST_CASE("a system asks for one schedule per drive") {
    const Points model;
    CHECK_THROWS_AS(sim::System(model, {Schedule(0)}), std::invalid_argument);
}
