#include "models/laws/water.h"
#include "tests/relative.h"

#include <limits>
#include <stdexcept>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("water is densest near 4 degC at one atmosphere") {
    const double at_4 = water_at(277.13).density; // 3.98 degC, textbook
    CHECK(at_4 > water_at(276.13).density);
    CHECK(at_4 > water_at(278.13).density);
}

TEST_CASE("water thins out, and its vapour pressure rises, from freezing to boiling") {
    auto colder = water_at(273.15);
    for (double t = 274.15; t < 373; t += 1) {
        CAPTURE(t);
        const auto water = water_at(t);
        CHECK(water.viscosity < colder.viscosity);
        CHECK(water.vapour_pressure_abs > colder.vapour_pressure_abs);
        colder = water;
    }
}

TEST_CASE("pressure makes water denser and stiffer") {
    CHECK(water_at(293.15, 25e5).density > water_at(293.15, 1e5).density);
    CHECK(water_at(293.15, 25e5).bulk_modulus > water_at(293.15, 1e5).bulk_modulus);
}

TEST_CASE("the bulk modulus is density times speed of sound squared") {
    const auto water = water_at(310);
    CHECK(water.bulk_modulus == relative(water.density * water.speed_of_sound * water.speed_of_sound, 1e-15));
}

TEST_CASE("boiling temperature and vapour pressure are inverses") {
    for (double t = 273.15; t < 647; t += 11) {
        CAPTURE(t);
        // Both solve the same quadratic; near the critical point a rounding of p is worth some more of T.
        CHECK(saturation_temperature(saturation_pressure(t)) == relative(t, 1e-11));
    }
}

TEST_CASE("water outside its range is refused") {
    CHECK_THROWS_AS(water_at(273.0), std::domain_error);
    CHECK_THROWS_AS(water_at(373.2, 1e6), std::domain_error);
    CHECK_THROWS_AS(water_at(373.15), std::domain_error); // boils: 101.4 kPa
    CHECK_NOTHROW(water_at(373.15, 1.02e5));
    CHECK_THROWS_AS(water_at(293.15, 101e6), std::domain_error);
    CHECK_THROWS_AS(water_at(293.15, 1000), std::domain_error); // below the vapour pressure of 2339 Pa
    CHECK_THROWS_AS(water_at(std::numeric_limits<double>::quiet_NaN()), std::domain_error);
    CHECK_THROWS_AS(saturation_pressure(650), std::domain_error);
    CHECK_THROWS_AS(saturation_temperature(600), std::domain_error);
    CHECK_THROWS_AS(water_viscosity(293.15, 0), std::domain_error);
}
