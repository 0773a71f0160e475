// Trapped air. Ratios and compliances follow from p V^n = constant; the period of a column against an air
// spring from omega = sqrt(n p A / (rho L V)); both computed apart from this project (Wylie & Streeter 1993
// for the forms).
#include "models/air.h"
#include "tests/relative.h"

#include <cmath>
#include <initializer_list>
#include <numbers>
#include <utility>

using namespace needleturn::models;
using needleturn::tests::relative;

constexpr double six_digits = 5e-6; // what is printed

TEST_CASE("halving the volume of trapped air multiplies its pressure by two to the index") {
    for (const auto& [index, ratio] : {std::pair{1.0, 2.0}, {1.2, 2.29740}, {1.4, 2.63902}}) {
        CAPTURE(index);
        const double before = 4e5; // Pa absolute
        const double after = ratio * before;
        CHECK(air_volume(1.0, after - atmospheric_pressure, index)
                  / air_volume(1.0, before - atmospheric_pressure, index)
              == relative(0.5, six_digits));
    }
}

TEST_CASE("ten millilitres of air at five bar absolute yield 1.66667e-11 m3/Pa") {
    const double pressure = 5e5 - atmospheric_pressure;
    const double free_air = free_air_of(10e-6, pressure, 1.2);
    CHECK(air_compliance(free_air, pressure, 1.2) == relative(1.66667e-11, six_digits));
}

TEST_CASE("a water column on an air spring swings with the period of the closed form") {
    const double length = 100, bore = 0.1, density = 999;
    const double pressure = 5e5 - atmospheric_pressure;
    const double area = std::numbers::pi / 4 * bore * bore;
    const double compliance = air_compliance(free_air_of(1e-3, pressure, 1.2), pressure, 1.2);
    const double period = 2 * std::numbers::pi * std::sqrt(density * length / area * compliance);
    CHECK(period == relative(0.914833, six_digits));
}

TEST_CASE("a trace of free gas slows the wave in a rigid pipe as published") {
    const double modulus = 2.19e9, density = 999, atmosphere = 101325;
    const auto speed = [&](double fraction, double index) {
        return mixture_wave_speed(modulus, density, 0, fraction, atmosphere, index);
    };
    constexpr double printed = 0.005; // m/s, half a unit of the last digit
    CHECK(std::abs(speed(1e-3, 1.0) - 311.36) < printed);
    CHECK(std::abs(speed(1e-3, 1.4) - 365.19) < printed);
    CHECK(std::abs(speed(1e-2, 1.0) - 100.48) < printed);
}
