#include "models/friction.h"
#include "sim/dual.h"
#include "tests/relative.h"

#include <cmath>
#include <limits>
#include <stdexcept>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("Colebrook's factor satisfies Colebrook's equation over the Moody diagram") {
    for (double reynolds = 2300; reynolds < 1e9; reynolds *= 1.7)
        for (const double roughness : {0.0, 1e-6, 1e-4, 1e-2, 0.05}) {
            CAPTURE(reynolds);
            CAPTURE(roughness);
            const double x = 1 / std::sqrt(colebrook(reynolds, roughness));
            CHECK(x
                  == relative(-2 * std::log10(roughness / 3.7 + 2.51 * x / reynolds),
                              1e-14)); // rounding of a log
        }
}

TEST_CASE("the explicit formulas stay within three per cent of Colebrook where they were fitted") {
    double worst_swamee_jain = 0, worst_haaland = 0;
    for (double reynolds = 5e3; reynolds < 1e8; reynolds *= 1.3)
        for (double roughness = 1e-6; roughness < 1e-2; roughness *= 1.5) {
            const double f = colebrook(reynolds, roughness);
            worst_swamee_jain =
                std::max(worst_swamee_jain, std::abs(swamee_jain(reynolds, roughness) / f - 1));
            worst_haaland = std::max(worst_haaland, std::abs(haaland(reynolds, roughness) / f - 1));
        }
    CHECK(worst_swamee_jain < 0.03);
    CHECK(worst_haaland < 0.015);
}

TEST_CASE("Churchill's formula joins laminar to turbulent friction") {
    for (double reynolds = 1e-3; reynolds < 1000; reynolds *= 3) {
        CAPTURE(reynolds);
        CHECK(churchill(reynolds, 0.01) == relative(64 / reynolds, 1e-6)); // what turbulence leaves there
    }
    for (double reynolds = 1e4; reynolds < 1e8; reynolds *= 3) {
        CAPTURE(reynolds);
        CHECK(churchill(reynolds, 1e-3)
              == relative(colebrook(reynolds, 1e-3), 0.015)); // of the Swamee-Jain form
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
    CHECK(colebrook(1e5, 1e-3) > colebrook(1e5, 1e-4));
    CHECK(colebrook(1e4, 1e-3) > colebrook(1e5, 1e-3));
    CHECK(churchill(1e5, 1e-3) > churchill(1e5, 1e-4));
}

TEST_CASE("turbulent formulas refuse laminar flow and roughness off the Moody diagram") {
    for (const auto formula : {colebrook, swamee_jain, haaland}) {
        CHECK_THROWS_AS(formula(1000, 1e-4), std::domain_error);
        CHECK_THROWS_AS(formula(std::numeric_limits<double>::quiet_NaN(), 1e-4), std::domain_error);
        CHECK_THROWS_AS(formula(1e5, -1e-6), std::domain_error);
        CHECK_THROWS_AS(formula(1e5, 0.06), std::domain_error);
    }
}
