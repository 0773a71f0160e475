/// Which test tells most: what is left open after readings, and what happens to a station under test.
#include "tools/studies/site_test.h"

#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/outlets.h"

#include <boost/math/quadrature/tanh_sinh.hpp>
#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <numbers>
#include <numeric>
#include <vector>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

const std::filesystem::path pinched =
    std::filesystem::path(tests::source_folder()) / "scenarios/nursery-night-pinched.toml";

double sum(const std::vector<double>& values) { return std::accumulate(values.begin(), values.end(), 0.0); }

} // namespace

TEST_CASE("without a reading the others' verdicts are all that is known") {
    // Of 4 valves 3 keep: for one of these 2 of the 3 others do, (1/3)^2 + (1/3)^2; for the one that breaks none does, 1 + 1.
    const auto scored = score({1, 1, 1, 2}, {}, 1);
    CHECK(sum(scored.open) == relative(3 * 2.0 / 9 + 2, 1e-12));
    CHECK(scored.told == relative(3, 1e-12));
}

TEST_CASE("a reading that is far apart between the verdicts leaves nothing open, one that is the same takes "
          "nothing") {
    const std::vector<int> verdicts{1, 2, 1, 2, 1, 2};
    std::vector<std::vector<TestReading>> apart, alike;
    for (const int verdict : verdicts) {
        apart.push_back({{1e5 * verdict, 0.05e5}});
        alike.push_back({{1e5, 0.05e5}});
    }
    CHECK(sum(score(verdicts, apart, 3).open) < 1e-12);
    CHECK(score(verdicts, apart, 3).told == relative(6, 1e-12));
    CHECK(sum(score(verdicts, alike, 3).open) == relative(sum(score(verdicts, {}, 3).open), 1e-9));
}

TEST_CASE("two kinds of valve whose readings overlap leave open what Bayes' rule says of them") {
    // Readings -d and d with a normal error of 1, both kinds equally likely: the other kind has the probability
    // 1 / (1 + exp(2 d r)) at the reading r of the second, and Brier's score of two verdicts is twice its square.
    constexpr double d = 0.8;
    boost::math::quadrature::tanh_sinh<double> integral;
    const double expected = integral.integrate(
        [](double r) {
            const double density = std::exp(-(r - d) * (r - d) / 2) / std::sqrt(2 * std::numbers::pi);
            return density * 2 / std::pow(1 + std::exp(2 * d * r), 2);
        },
        -10.0, 10.0);
    std::vector<int> verdicts;
    std::vector<std::vector<TestReading>> readings;
    constexpr int valves = 600;
    for (int i = 0; i < valves; ++i) {
        verdicts.push_back(i % 2);
        readings.push_back({{i % 2 == 0 ? -d : d, 1}});
    }
    const double open = sum(score(verdicts, readings, 5).open) / valves;
    CAPTURE(expected);
    CAPTURE(open);
    // 16 errors for each of 600 valves, scores between 0 and 2 that scatter by some 0.45: 0.005, and three times that.
    CHECK(std::abs(open - expected) < 0.015);
}

TEST_CASE("under test a station stands at one flow and goes to the other, all else left aside") {
    const std::vector<scenarios::Override> set{{"main.opening_control=0.75 turns"},
                                               {"supply.steps=[{ at = \"2 s\", to = \"1 bar\" }]"}};
    const auto stated = scenarios::read_scenario(pinched, set);
    const auto tests = site_tests(stated);
    for (const auto& test : tests) {
        const auto scenario = under_test(stated, test);
        CHECK(scenario.supply.steps.empty());
        REQUIRE(scenario.demand.steps.size() == 2);
        CHECK(scenario.demand.steps[0].to == relative(test.from, 1e-12));
        CHECK(std::abs(scenario.demand.steps[1].to - test.to) < 1e-12 * test.from);
        CHECK(scenario.demand.start < scenario.demand.steps[0].to);
        CHECK(
            scenario.stages.front().opening_control
            == (test.needle == "main.opening_control" ? test.turns : stated.stages.front().opening_control));
        CHECK(
            scenario.stages.front().closing_control
            == (test.needle == "main.closing_control" ? test.turns : stated.stages.front().closing_control));
    }
    // Open, shut, stop, cover; the opening control at 0.25 and 1.25 turns, the closing control from its 6 turns to 5.5 only.
    REQUIRE(tests.size() == 7);
    CHECK(tests[4].turns == 0.25);
    CHECK(tests[5].turns == 1.25);
    CHECK(tests[6].needle == "main.closing_control");
    CHECK(tests[6].turns == 5.5);
}
