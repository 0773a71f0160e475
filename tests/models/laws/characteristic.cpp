#include "models/laws/characteristic.h"
#include "sim/dual.h"
#include "tests/relative.h"

#include <cmath>
#include <limits>

using namespace needleturn::models;
using needleturn::tests::relative;
using Dual = needleturn::sim::Dual<double, 1>;

namespace {
const Table needle{{{0, 0}, {0.1, 0.01}, {0.25, 0.08}, {0.5, 0.35}, {0.5625, 0.6}, {0.8, 0.6}, {1, 1}}};
const std::vector<Characteristic> all{Linear{},        Linear{0.05},  EqualPercentage{50}, QuickOpening{1.8},
                                      QuickOpening{1}, Contoured{30}, PowerLaw{1.3},       needle};
} // namespace

TEST_CASE("every characteristic rises from its seat value to one") {
    for (const auto& characteristic : all) {
        double before = 0;
        for (int i = 0; i <= 1000; ++i) {
            const double now = relative_capacity(characteristic, i / 1000.0);
            CHECK(now >= before - 2e-16); // flat pieces of a table round to a unit in the last place
            before = now;
        }
        CHECK(relative_capacity(characteristic, 1.0) == relative(1.0, 1e-15));
    }
}

TEST_CASE("beyond its travel a characteristic keeps its end values") {
    for (const auto& characteristic : all) {
        CHECK(relative_capacity(characteristic, -0.1) == relative_capacity(characteristic, 0.0));
        CHECK(relative_capacity(characteristic, 1.1) == relative_capacity(characteristic, 1.0));
        CHECK(relative_capacity(characteristic, Dual{-0.1, 0, 1.0}).slope[0] == 0);
        CHECK(relative_capacity(characteristic, Dual{1.1, 0, 1.0}).slope[0] == 0);
    }
}

TEST_CASE("every characteristic carries its exact slope through a dual number") {
    for (const auto& characteristic : all)
        for (double h = 0.0125; h < 1; h += 0.025) { // also across the points of the table
            CAPTURE(h);
            const auto at = relative_capacity(characteristic, Dual{h, 0, 1.0});
            // The powers of a dual round differently, by a few units in the last place of one.
            CHECK(std::abs(at.value - relative_capacity(characteristic, h)) < 5e-16);
            const double d = 1e-6;
            const double difference =
                (relative_capacity(characteristic, h + d) - relative_capacity(characteristic, h - d))
                / (2 * d);
            // d^2 times the third derivative (some thousands) and 1e-16/d of rounding; across a point of the
            // table the second derivative jumps, by some hundreds, times d.
            CHECK(std::abs(at.slope[0] - difference) < 1e-4);
        }
}

TEST_CASE("a table passes through its points, exactly where they are binary fractions") {
    CHECK(needle(0.0) == 0);
    CHECK(needle(0.1) == relative(0.01, 1e-14));
    CHECK(needle(0.25) == 0.08);
    CHECK(needle(0.5) == 0.35);
    CHECK(needle(0.5625) == 0.6);
    CHECK(needle(1.0) == 1);
}

TEST_CASE("the slope of a table is continuous, and defined, at its points") {
    for (const double h : {0.1, 0.25, 0.5, 0.5625, 0.8}) {
        CAPTURE(h);
        const auto slope = [&](double at) { return needle(Dual{at, 0, 1.0}).slope[0]; };
        // One step of 1e-9 changes the slope by the second derivative times it.
        CHECK(std::abs(slope(h - 1e-9) - slope(h)) < 1e-6);
        CHECK(std::abs(slope(h + 1e-9) - slope(h)) < 1e-6);
    }
}

TEST_CASE("a table is flat where its points are") {
    for (double h = 0.5625; h < 0.8; h += 0.01)
        CHECK(needle(h) == relative(0.6, 1e-15));
}

TEST_CASE("a table of points on a line is that line") {
    const Table line{{{0, 0}, {0.2, 0.2}, {0.7, 0.7}, {1, 1}}};
    const Table shortest{{{0, 0.5}, {1, 1}}};
    for (double h = 0; h <= 1; h += 0.01) {
        CHECK(std::abs(line(h) - h) < 1e-15);
        CHECK(std::abs(shortest(h) - (0.5 + h / 2)) < 1e-15);
    }
}

TEST_CASE("characteristics refuse parameters that make no trim") {
    CHECK_THROWS_AS(Linear{-0.1}, std::domain_error);
    CHECK_THROWS_AS(Linear{1.0}, std::domain_error);
    CHECK_THROWS_AS(EqualPercentage{1.0}, std::domain_error);
    CHECK_THROWS_AS(EqualPercentage{-3.0}, std::domain_error);
    CHECK_THROWS_AS(Contoured{1.0}, std::domain_error);
    CHECK_THROWS_AS(PowerLaw{0.9}, std::domain_error);
    CHECK_THROWS_AS(QuickOpening{0.9}, std::domain_error);
    CHECK_THROWS_AS(QuickOpening{std::numeric_limits<double>::quiet_NaN()}, std::domain_error);
    const auto table = [](std::vector<std::pair<double, double>> points) { return Table{points}; };
    CHECK_THROWS_AS(table({{0, 0}}), std::domain_error);
    CHECK_THROWS_AS(table({{0.1, 0}, {1, 1}}), std::domain_error);
    CHECK_THROWS_AS(table({{0, 0}, {0.9, 1}}), std::domain_error);
    CHECK_THROWS_AS(table({{0, 0}, {1, 0.9}}), std::domain_error);
    CHECK_THROWS_AS(table({{0, -0.1}, {1, 1}}), std::domain_error);
    CHECK_THROWS_AS(table({{0, 0}, {0.5, 0.5}, {0.5, 0.6}, {1, 1}}), std::domain_error);
    CHECK_THROWS_AS(table({{0, 0}, {0.5, 0.5}, {0.6, 0.4}, {1, 1}}), std::domain_error);
    CHECK_THROWS_AS(table({{0, 0}, {0.5, std::numeric_limits<double>::quiet_NaN()}, {1, 1}}),
                    std::domain_error);
}
