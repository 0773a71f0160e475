#include "sim/integrate.h"
#include "tests/relative.h"
#include "tests/sim/small_model.h"

#include <boost/numeric/odeint/integrate/integrate_const.hpp>
#include <boost/numeric/odeint/integrate/integrate_times.hpp>
#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <span>
#include <string>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

/// A quantity that gathers its drive: the integral of a schedule.
const auto gatherer =
    tests::small_model<1>(std::array{1.0}, [](const auto& u) { return rates(u[1] + 0.0 * u[0]); });

/// Two springs, a swing of 1 Hz and 2 Hz with little damping.
const auto swing = tests::small_model(std::array{1.0, 1.0, 1.0, 1.0}, [](const auto& u) {
    const auto& [x, v, z, w] = u;
    return rates(v, -40.0 * x + 5.0 * (z - x * x) - 0.2 * v, w, -160.0 * z + 5.0 * (x - z) - 0.1 * w);
});
Eigen::VectorXd swing_start() { return Eigen::VectorXd{{1, 0, 0.3, 0}}; }

constexpr auto ignore = [](const auto&) {};

/// What integrate says, and does to y and counts, when it fails.
template <class M>
std::string complaint(const M& model, Eigen::VectorXd& y, double end, sim::Counts& counts, double& time) {
    sim::System system(model, {});
    try {
        integrate(system, y, 0, end, sim::Tolerance{1e-6}, counts, ignore);
    } catch (const sim::IntegrationFailure& failure) {
        time = failure.time;
        CHECK(std::string(failure.what()).find(failure.state) != std::string::npos);
        return failure.what();
    }
    return "";
}

} // namespace

TEST_CASE("a pulse of 10 ms in 100 quiet seconds is not stepped over") {
    Schedule pulse(0);
    pulse.then({70, 100});
    pulse.then({70.01, 0});
    sim::System system(gatherer, {pulse});
    Eigen::VectorXd y = Eigen::VectorXd::Zero(1);
    sim::Counts counts;
    integrate(system, y, 0, 100, sim::Tolerance{1e-4}, counts, ignore);
    CHECK(std::abs(y[0] - 1) < 1e-9); // 70.01 - 70 is 0.01 to 1e-12 of it
    CHECK(counts.restarts == 3);      // at 0, 70 and 70.01
    CHECK(counts.steps < 100);
}

TEST_CASE("corners of two schedules a rounding error apart are passed, and both are felt") {
    Schedule a(0), b(0);
    a.then({0.3, 1});
    b.then({0.1 + 0.2, 1}); // 5e-17 later
    REQUIRE(a.breakpoints() != b.breakpoints());
    const auto model =
        tests::small_model<2>(std::array{1.0}, [](const auto& u) { return rates(u[1] + u[2]); });
    sim::System system(model, {a, b});
    Eigen::VectorXd y = Eigen::VectorXd::Zero(1);
    sim::Counts counts;
    integrate(system, y, 0, 1, sim::Tolerance{1e-4}, counts, ignore);
    CHECK(y[0] == relative(1.4, 1e-12));
}

TEST_CASE("a ramp that ends a rounding error after another has begun is passed, alone and in lanes") {
    Schedule a(0), b(0);
    a.then({0.2, 1, 0.1});
    b.then({0.3, 1, 0.5});
    REQUIRE(a.breakpoints().back() != b.breakpoints().front()); // 0.2 + 0.1 is 4e-17 more than 0.3
    const auto model =
        tests::small_model<2>(std::array{1.0}, [](const auto& u) { return rates(u[1] + u[2] + 0.0 * u[0]); });
    sim::System system(model, {a, b});
    Eigen::VectorXd y = Eigen::VectorXd::Zero(1);
    sim::Counts counts;
    integrate(system, y, 0, 1, sim::Tolerance{1e-4}, counts, ignore);
    CHECK(y[0] == relative(0.75 + 0.45, 1e-9)); // the areas under the ramps
}

TEST_CASE("the observer sees every step, each beginning where the last one ended, the last at the end") {
    Schedule ramp(0);
    ramp.then({0.7, 2, 0.3});
    sim::System system(gatherer, {ramp});
    Eigen::VectorXd y = Eigen::VectorXd::Zero(1), end_of_last = y, within;
    sim::Counts counts;
    double t = 0;
    std::size_t steps = 0;
    bool at_breakpoint = false;
    integrate(system, y, 0, 3, sim::Tolerance{1e-6}, counts, [&](const auto& stepper) {
        CHECK(stepper.previous_time() == t);
        CHECK(stepper.current_time() > t);
        CHECK(stepper.previous_state() == end_of_last);
        stepper.calc_state(stepper.previous_time(), within);
        CHECK(within == end_of_last);
        stepper.calc_state(stepper.current_time(), within);
        CHECK((within - stepper.current_state()).norm()
              < 1e-12); // t and t_old + h differ by a rounding error
        CHECK(y == stepper.current_state());
        t = stepper.current_time();
        end_of_last = stepper.current_state();
        at_breakpoint = at_breakpoint || t == 0.7;
        ++steps;
    });
    CHECK(t == 3);
    CHECK(at_breakpoint);
    CHECK(steps == counts.steps);
    CHECK(y[0] == relative(0.3 + 4, 1e-9));
}

TEST_CASE("counts of a second run are added to those of the first") {
    sim::System system(swing, {});
    sim::Counts once, twice;
    Eigen::VectorXd y = swing_start();
    integrate(system, y, 0, 1, sim::Tolerance{1e-6}, once, ignore);
    for (int run = 0; run < 2; ++run) {
        y = swing_start();
        integrate(system, y, 0, 1, sim::Tolerance{1e-6}, twice, ignore);
    }
    CHECK(twice.steps == 2 * once.steps);
    CHECK(twice.restarts == 2 * once.restarts);
    CHECK(once.jacobians == once.steps); // one per step, however often it is tried
    CHECK(once.factorisations == once.steps + once.rejected);
    CHECK(once.rates == once.steps + 7 * once.factorisations);
}

TEST_CASE("a blow-up ends the run at its time, in its state, with the last good value kept") {
    // y2' = y2^2 from 1 is 1 / (1 - t).
    const auto model =
        tests::small_model(std::array{1.0, 1.0}, [](const auto& u) { return rates(-u[0], u[1] * u[1]); });
    Eigen::VectorXd y{{1, 1}};
    sim::Counts counts;
    double time = 0;
    const auto text = complaint(model, y, 2, counts, time);
    CAPTURE(text);
    CHECK(text.find("small.y2") != std::string::npos);
    CHECK(time == relative(1, 1e-5)); // the pole itself moves by the tolerance
    CHECK(y.allFinite());
    CHECK(y[1] > 1e6);
    CHECK(y[0] == relative(std::exp(-1), 1e-4));
    CHECK(counts.factorisations == counts.steps + counts.rejected);
}

TEST_CASE(
    "a rate that becomes not a number ends the run with the name of its own state, not of a neighbour") {
    // The root of what is left of y2 ends at t = 1; y1 and y3 read y2, and the Jacobian couples all.
    const auto model = tests::small_model(std::array{1.0, 1.0, 1.0}, [](const auto& u) {
        return rates(u[1] - u[0], -1.0 - 0.0 * sqrt(u[1]), u[1] - u[2]);
    });
    Eigen::VectorXd y{{0, 1, 0}};
    sim::Counts counts;
    double time = 0;
    const auto text = complaint(model, y, 2, counts, time);
    CAPTURE(text);
    CHECK(text.find("small.y2") != std::string::npos);
    CHECK(text.find("not a number") != std::string::npos);
    CHECK(time == relative(1, 1e-9));
    CHECK(y.allFinite());
}

TEST_CASE("a start from which a rate or its derivative is not a number is refused at once") {
    const auto rate =
        tests::small_model(std::array{1.0, 1.0}, [](const auto& u) { return rates(-u[0], log(u[1])); });
    const auto slope =
        tests::small_model(std::array{1.0, 1.0}, [](const auto& u) { return rates(-u[0], sqrt(u[1])); });
    Eigen::VectorXd y{{1, 0}};
    sim::Counts counts;
    double time = -1;
    CHECK(complaint(rate, y, 1, counts, time).find("small.y2") != std::string::npos);
    CHECK(time == 0);
    const auto text = complaint(slope, y, 1, counts, time);
    CHECK(text.find("small.y2") != std::string::npos);
    CHECK(text.find("derivative") != std::string::npos);
    CHECK(counts.rejected < 100);
}

namespace {

/// A decay and a meter of it, which overflows when the decay passes one half.
class Metered {
  public:
    explicit Metered(double last) : last_{last} {}
    const std::vector<Quantity>& states() const { return states_; }
    const std::vector<Quantity>& drives() const { return none_; }
    const std::vector<Quantity>& signals() const { return none_; }
    void observe(std::span<const double>, std::span<double>) const {}
    template <class On> void visit_storages(On&&) const {}
    template <class On> void visit_elements(On&& on) const {
        on(reads(0), writes(0), [](auto y) { return rates(-y); });
        on(reads(0), writes(1), [last = last_](auto y) { return rates(sqrt(y - last)); });
    }

  private:
    double last_;
    std::vector<Quantity> states_{{"tank.level", "m", 1, ""},
                                  {"tank.delivered", "m3", 1e-12, "", Role::meter}};
    std::vector<Quantity> none_;
};

} // namespace

TEST_CASE("a meter does not shorten the steps, but may not stop being a number in silence") {
    const Metered metered(-1);
    sim::System system(metered, {});
    Eigen::VectorXd y{{1, 0}};
    sim::Counts counts;
    integrate(system, y, 0, 2, sim::Tolerance{1e-3}, counts, ignore);
    CHECK(counts.steps < 20); // its typical size of 1e-12 would ask for thousands

    Eigen::VectorXd start{{1, 0}};
    double time = 0;
    const auto text = complaint(Metered(0.5), start, 2, counts, time);
    CHECK(text.find("tank.delivered") != std::string::npos);
    CHECK(time == relative(std::log(2), 1e-4));
}

TEST_CASE("a linear invariant is kept to rounding over ten thousand steps") {
    // Three reactions that pass one amount around: every stage of a Rosenbrock method keeps the sum.
    const auto model = tests::small_model(std::array{1.0, 1.0, 1.0}, [](const auto& u) {
        const auto ab = 3.0 * u[0] * u[1] - u[2], bc = 20.0 * u[1] * u[2] - u[0] * u[0],
                   ca = 0.3 * (u[2] - u[0]);
        return rates(ca - ab, ab - bc, bc - ca);
    });
    sim::System system(model, {});
    sim::Rodas5P stepper(system, {1e-3});
    stepper.initialize(Eigen::VectorXd{{0.2, 0.7, 0.1}}, 0, 1e-2);
    for (int i = 1; i <= 10'000; ++i)
        stepper.do_step(system, 1e-2 * i);
    REQUIRE(stepper.counts().steps == 10'000);
    CHECK(std::abs(stepper.current_state().sum() - 1) < 1e-12); // 1e4 roundings of 1e-16
}

TEST_CASE("a step cut short by a limit does not shorten the steps after it") {
    sim::System system(gatherer, {Schedule(1)});
    sim::Rodas5P stepper(system);
    stepper.initialize(Eigen::VectorXd::Zero(1), 0, 1.0);
    stepper.do_step(system, 1e-9);
    CHECK(stepper.current_time() == 1e-9);
    CHECK(stepper.current_time_step() == 1.0);
}

TEST_CASE(
    "Odeint's integrate_const and integrate_times drive the stepper to the states that integrate gives") {
    namespace odeint = boost::numeric::odeint;
    sim::System system(swing, {});
    constexpr double tolerance = 1e-9, dt = 0.05;
    std::vector<double> times;
    for (int i = 0; i <= 60; ++i)
        times.push_back(dt * i);

    std::vector<Eigen::VectorXd> ours{swing_start()};
    Eigen::VectorXd y = swing_start(), at;
    sim::Counts counts;
    integrate(system, y, 0, times.back(), sim::Tolerance{tolerance}, counts, [&](const auto& stepper) {
        for (; ours.size() < times.size() && times[ours.size()] <= stepper.current_time(); ours.push_back(at))
            stepper.calc_state(times[ours.size()], at);
    });
    REQUIRE(ours.size() == times.size());

    const auto compare = [&](const std::vector<Eigen::VectorXd>& theirs) {
        REQUIRE(theirs.size() == times.size());
        for (std::size_t i = 0; i < times.size(); ++i)
            CHECK((theirs[i] - ours[i]).norm() < 100 * tolerance); // other steps, the same solution
    };
    std::vector<Eigen::VectorXd> by_const, by_times;
    y = swing_start();
    odeint::integrate_const(sim::Rodas5P(system, {tolerance}), system, y, 0.0, times.back() + 0.5 * dt, dt,
                            [&](const auto& state, double) { by_const.push_back(state); });
    compare(by_const);
    y = swing_start();
    odeint::integrate_times(sim::Rodas5P(system, {tolerance}), system, y, times.begin(), times.end(), 1e-3,
                            [&](const auto& state, double) { by_times.push_back(state); });
    compare(by_times);
}
