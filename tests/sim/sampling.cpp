/// Sampling plans against the properties that define them.
#include "sim/sampling.h"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdio>
#include <random>
#include <set>
#include <vector>

using namespace needleturn::sim;

TEST_CASE("a Latin hypercube has one point in every slice of every axis") {
    // The definition: McKay, Beckman and Conover, Technometrics 21:239 (1979).
    for (const std::uint64_t points : {1u, 2u, 3u, 17u, 64u, 1000u}) {
        const LatinHypercube plan(points, 5);
        for (std::size_t axis = 0; axis < 4; ++axis) {
            std::set<std::uint64_t> slices;
            for (std::uint64_t i = 0; i < points; ++i) {
                const double u = plan(i, axis);
                REQUIRE(u >= 0);
                REQUIRE(u < 1);
                slices.insert(static_cast<std::uint64_t>(u * static_cast<double>(points)));
            }
            CHECK(slices.size() == points);
        }
    }
}

TEST_CASE("scrambled Sobol points are a net: every elementary box of the first two axes holds one of 2^m") {
    // A (0, m, 2)-net in base 2: Sobol's first two axes, and Owen (1995), proposition 1: scrambling keeps the net.
    constexpr int m = 6;
    for (const std::uint64_t seed : {1u, 2u, 99u}) {
        ScrambledSobol plan(2, seed);
        std::vector<double> x(2);
        for (int a = 0; a <= m; ++a) {
            std::set<std::pair<int, int>> boxes;
            for (std::uint64_t i = 0; i < (1u << m); ++i) {
                plan(i, x);
                boxes.insert({static_cast<int>(x[0] * (1 << a)), static_cast<int>(x[1] * (1 << (m - a)))});
            }
            CHECK(boxes.size() == (1u << m));
        }
    }
}

TEST_CASE("a Sobol point is the same whichever came before it") {
    const auto seed = std::random_device{}();
    std::printf("seed: %u\n", seed);
    std::mt19937 random(seed);
    ScrambledSobol in_order(5, 3), at_random(5, 3);
    std::vector<std::vector<double>> points(200, std::vector<double>(5));
    for (std::uint64_t i = 0; i < points.size(); ++i)
        in_order(i, points[i]);
    std::vector<double> x(5);
    for (int trial = 0; trial < 300; ++trial) {
        const auto i = std::uniform_int_distribution<std::uint64_t>(0, points.size() - 1)(random);
        at_random(i, x);
        CHECK(x == points[i]);
    }
}

TEST_CASE("plans refuse what they cannot make") {
    CHECK_THROWS(LatinHypercube(0, 1));
    CHECK_THROWS(ScrambledSobol(0, 1));
    CHECK_THROWS(ScrambledSobol(4000, 1));
}
