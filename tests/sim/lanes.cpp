/// Lanes on the van der Pol oscillator, driven: against integrate, and against one another.
#include "sim/lanes.h"
#include "sim/integrate.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

using namespace needleturn;

namespace {

constexpr double end = 12;

/// y'' = 30 (1 - y^2) y' - y + d sqrt(y + 3), after van der Pol; below -3 it is not a number.
auto oscillator() {
    return tests::small_model<1>(std::array{1.0, 1.0}, [](auto v) {
        using S = typename decltype(v)::value_type;
        return std::array<S, 2>{v[1], 30.0 * (1.0 - v[0] * v[0]) * v[1] - v[0] + v[2] * sqrt(v[0] + 3.0)};
    });
}
using Oscillator = decltype(oscillator());

/// A drive that jumps and ramps at times of its own.
Schedule drive(std::size_t number) {
    const auto k = static_cast<double>(number);
    Schedule schedule(0.1 * k);
    schedule.then({0.5 + 0.3 * k, 1.0, 0.0});
    schedule.then({6.0 + 0.2 * k, -0.5, 1.5});
    return schedule;
}

Eigen::VectorXd start(std::size_t number) {
    return Eigen::Vector2d(1.0 + 0.1 * static_cast<double>(number), 0.0);
}

struct Result {
    Eigen::VectorXd y;
    double halfway = 0; ///< y1 at a time between steps
    sim::Counts counts;
    bool stuck = false;
};

constexpr double middle = 5.4321;

Result alone(const Oscillator& model, std::size_t number, double tolerance) {
    sim::System<Oscillator> system(model, {drive(number)});
    Result result;
    result.y = start(number);
    sim::integrate(system, result.y, 0, end, {tolerance}, result.counts, [&](const auto& stepper) {
        if (stepper.previous_time() <= middle && middle < stepper.current_time()) {
            Eigen::VectorXd y;
            stepper.calc_state(middle, y);
            result.halfway = y[0];
        }
    });
    return result;
}

/// Runs the cases in W lanes, as they become free; case `broken` begins where the equation has no value.
template <std::size_t W> std::vector<Result> in_lanes(const Oscillator& model, std::size_t cases,
                                                      double tolerance, std::size_t broken = 99) {
    sim::Lanes<Oscillator, W> lanes(model, {tolerance});
    std::vector<Result> results(cases);
    std::array<std::size_t, W> in{};
    std::size_t next = 0;
    const auto fill = [&](std::size_t lane) {
        if (next == cases)
            return;
        in[lane] = next++;
        sim::System<Oscillator> system(model, {drive(in[lane])});
        auto ends = system.breakpoints(0, end);
        ends.push_back(end);
        lanes.start(lane, in[lane] == broken ? Eigen::VectorXd(Eigen::Vector2d(-4, 0)) : start(in[lane]), 0,
                    ends, system.ramps());
    };
    for (std::size_t lane = 0; lane < W; ++lane)
        fill(lane);
    while (!lanes.all_free())
        lanes.advance(
            [&](const auto& taken) {
                auto& result = results[in[taken.lane()]];
                if (taken.previous_time() <= middle && middle < taken.current_time())
                    result.halfway = taken.calc_state(0, middle);
                result.y.resize(2);
                taken.calc_state(taken.current_time(), result.y.data());
            },
            [&](std::size_t lane, double t) { return std::vector<Ramp>{drive(in[lane]).piece(t)}; },
            [&](std::size_t lane) {
                results[in[lane]].counts = lanes.counts(lane);
                fill(lane);
            },
            [&](std::size_t lane) {
                results[in[lane]].stuck = true;
                fill(lane);
            });
    return results;
}

} // namespace

TEST_CASE("a run in a lane takes the steps of the run on its own and ends where it ends") {
    const auto model = oscillator();
    constexpr std::size_t cases = 11;
    const auto results = in_lanes<4>(model, cases, 1e-6);
    for (std::size_t i = 0; i < cases; ++i) {
        CAPTURE(i);
        const auto expected = alone(model, i, 1e-6);
        CHECK(results[i].counts.steps == expected.counts.steps);
        CHECK(results[i].counts.rejected == expected.counts.rejected);
        CHECK(results[i].counts.restarts == expected.counts.restarts);
        // Only the controller's power is rounded differently, so only step lengths are, and by 1e-15.
        CHECK(results[i].y[0] == doctest::Approx(expected.y[0]).epsilon(1e-10));
        CHECK(results[i].halfway == doctest::Approx(expected.halfway).epsilon(1e-10));
    }
}

TEST_CASE("what a lane computes depends neither on their number nor on its neighbours, to the bit") {
    const auto model = oscillator();
    constexpr std::size_t cases = 11;
    const auto two = in_lanes<2>(model, cases, 1e-5), eight = in_lanes<8>(model, cases, 1e-5),
               with_a_broken_one = in_lanes<4>(model, cases, 1e-5, 3);
    for (std::size_t i = 0; i < cases; ++i) {
        CAPTURE(i);
        CHECK(two[i].y == eight[i].y);
        CHECK(two[i].halfway == eight[i].halfway);
        CHECK(two[i].counts.steps == eight[i].counts.steps);
        CHECK(with_a_broken_one[i].stuck == (i == 3));
        if (i != 3)
            CHECK(with_a_broken_one[i].y == two[i].y);
    }
}

TEST_CASE("the state table of a run that is over is not looked at any more") {
    const auto model = oscillator();
    auto table = model.states();
    sim::Lanes<Oscillator, 2> lanes(model, {1e-5});
    lanes.weigh(0, table, {1e-5});
    for (const std::size_t number : {0u, 1u})
        lanes.start(number, start(number), 0, {number == 0 ? 0.4 : end}, {drive(number).piece(0)});
    Eigen::Vector2d last;
    while (!lanes.all_free())
        lanes.advance([&](const auto& taken) { taken.calc_state(taken.current_time(), last.data()); },
                      [](std::size_t, double) { return std::vector<Ramp>{}; },
                      [&](std::size_t lane) {
                          if (lane == 0)
                              for (auto& state : table)
                                  state.typical = std::numeric_limits<double>::quiet_NaN();
                      },
                      [](std::size_t) { FAIL("stuck"); });
    CHECK(last.allFinite());
}
