#include "models/laws/friction.h"
#include "sim/dual.h"
#include "tests/relative.h"

#include <cmath>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("Churchill's formula joins laminar to turbulent friction") {
    for (double reynolds = 1e-3; reynolds < 1000; reynolds *= 3) {
        CAPTURE(reynolds);
        CHECK(churchill(reynolds, 0.01) == relative(64 / reynolds, 1e-6)); // what turbulence leaves there
    }
    for (double reynolds = 1e4; reynolds < 1e8; reynolds *= 3) {
        CAPTURE(reynolds);
        // The turbulent limit of Colebrook's equation, 1/sqrt(f) = -2 log10(roughness/3.7 + 2.51/(Re sqrt(f))), by iteration;
        // 1.5 % of the Swamee-Jain form.
        double x = 7;
        for (int i = 0; i < 50; ++i)
            x = -2 * std::log10(1e-3 / 3.7 + 2.51 * x / reynolds);
        CHECK(churchill(reynolds, 1e-3) == relative(1 / (x * x), 0.015));
    }
}

TEST_CASE("what Churchill's formula leaves out is lost beside what it keeps") {
    const auto whole = [](long double reynolds, long double roughness) {
        const long double a =
            std::pow(2.457L * std::log(1 / (std::pow(7 / reynolds, 0.9L) + 0.27L * roughness)), 16.0L);
        const long double b = std::pow(37530 / reynolds, 16.0L);
        return static_cast<double>(
            8 * std::pow(std::pow(8 / reynolds, 12.0L) + std::pow(a + b, -1.5L), 1 / 12.0L));
    };
    for (const double roughness : {0.0, 1e-5, 1e-3, 0.05})
        for (double reynolds = 1; reynolds < 1e8; reynolds *= 1.07) {
            CAPTURE(reynolds);
            CAPTURE(roughness);
            // Terms left out, and a few roundings, which the power of 16 makes larger.
            CHECK(churchill(reynolds, roughness) == relative(whole(reynolds, roughness), 3e-13));
        }
}

TEST_CASE("powers from tables are those of the library but for a few roundings") {
    for (double x = 1e-45; x < 1e5; x *= 1.00371) { // from below the tables to beyond them
        CAPTURE(x);
        CHECK(nine_tenths_power(x) == relative(std::pow(x, 0.9), 1e-15));
        CHECK(twelfth_root(x) == relative(std::pow(x, 1 / 12.0), 1e-15));
    }
}

TEST_CASE("Churchill's formula carries its exact slope through a dual number") {
    for (double reynolds = 1e-3; reynolds < 1e8; reynolds *= 2.3) {
        CAPTURE(reynolds);
        const auto f = churchill(needleturn::sim::Dual<double, 1>{reynolds, 0, 1.0}, 1e-4);
        CHECK(f.value == relative(churchill(reynolds, 1e-4), 1e-14)); // powers of duals round differently
        const double h = 1e-5 * reynolds;
        const double difference = (churchill(reynolds + h, 1e-4) - churchill(reynolds - h, 1e-4)) / (2 * h);
        // Relative to f/Re; the difference quotient errs by (1e-5)^2 times curvature and 1e-16/1e-5 of
        // rounding.
        CHECK(std::abs(f.slope[0] - difference) * reynolds / f.value < 1e-7);
    }
}

TEST_CASE("rougher pipes and slower flow have the larger factor") {
    CHECK(churchill(1e5, 1e-3) > churchill(1e5, 1e-4));
    CHECK(churchill(1e4, 1e-3) > churchill(1e5, 1e-3));
}
