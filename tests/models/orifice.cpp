#include "models/orifice.h"
#include "tests/relative.h"

#include <cmath>
#include <stdexcept>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("the capacity of an orifice gives Torricelli's flow times the discharge coefficient") {
    const double area = 5e-6, drop = 3e5;
    CHECK(orifice_capacity(0.61, area) * std::sqrt(drop)
          == relative(0.61 * area * std::sqrt(2 * drop / reference_density), 1e-15));
}

TEST_CASE("the small-pipe term vanishes at 71.12 mm and adds below") {
    CHECK(iso_5167_discharge(0.5, 1e6, 0.07112) == relative(iso_5167_discharge(0.5, 1e6, 0.5), 1e-15));
    // 0.011 (0.75 - 0.5)(2.8 - 2) at D = 50.8 mm, by hand.
    CHECK(iso_5167_discharge(0.5, 1e6, 0.0508) - iso_5167_discharge(0.5, 1e6, 0.5)
          == relative(0.0022, 1e-12));
}

TEST_CASE("a longer orifice discharges less, and so does a slower flow") {
    CHECK(long_orifice_discharge(8) < long_orifice_discharge(3));
    double before = 0;
    for (double reynolds = 10; reynolds <= 20000; reynolds *= 1.2) {
        CAPTURE(reynolds);
        const double now = long_orifice_discharge(4, reynolds);
        CHECK(now > before);
        before = now;
    }
    CHECK(std::abs(before - long_orifice_discharge(4)) < 0.01); // turbulent by then
}

TEST_CASE("orifices outside the range of their correlations are refused") {
    CHECK_THROWS_AS(iso_5167_discharge(0.05, 1e6, 0.1), std::domain_error);
    CHECK_THROWS_AS(iso_5167_discharge(0.8, 1e6, 0.1), std::domain_error);
    CHECK_THROWS_AS(iso_5167_discharge(0.5, 4000, 0.1), std::domain_error);
    CHECK_THROWS_AS(iso_5167_discharge(0.7, 7000, 0.1), std::domain_error); // below 16000 beta^2
    CHECK_THROWS_AS(iso_5167_discharge(0.5, 1e6, 0.04), std::domain_error);
    CHECK_THROWS_AS(long_orifice_discharge(1), std::domain_error);
    CHECK_THROWS_AS(long_orifice_discharge(11), std::domain_error);
    CHECK_THROWS_AS(long_orifice_discharge(4, 1), std::domain_error);
}
