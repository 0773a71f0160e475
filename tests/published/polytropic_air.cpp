// Trapped air. Ratios and compliances follow from p V^n = constant; the period of a column against an air
// spring from omega = sqrt(n p A / (rho L V)); both computed apart from this project (Wylie & Streeter 1993
// for the forms).
#include "models/laws/air.h"
#include "models/laws/storage.h"
#include "sim/dual.h"
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

/// -dV/dp, m3/Pa.
double compliance(double free_air, double pressure) {
    using Dual = needleturn::sim::Dual<double, 1>;
    return -air_volume(Dual{free_air}, Dual{pressure, 0, 1.0}, 1.2).slope[0];
}

TEST_CASE("ten millilitres of air at five bar absolute yield 1.66667e-11 m3/Pa") {
    const double pressure = 5e5 - atmospheric_pressure;
    CHECK(compliance(free_air_of(10e-6, pressure, 1.2), pressure) == relative(1.66667e-11, six_digits));
}

TEST_CASE("a water column on an air spring swings with the period of the closed form") {
    const double length = 100, bore = 0.1, density = 999;
    const double pressure = 5e5 - atmospheric_pressure;
    const double area = std::numbers::pi / 4 * bore * bore;
    const double spring = compliance(free_air_of(1e-3, pressure, 1.2), pressure);
    const double period = 2 * std::numbers::pi * std::sqrt(density * length / area * spring);
    CHECK(period == relative(0.914833, six_digits));
}

TEST_CASE("a trace of free gas slows the wave in a rigid pipe as published") {
    // a = sqrt((K/rho) / (1 + alpha (K/p - 1))), isothermal (Wylie & Streeter 1993). A storage has water throughout and the
    // gas beside it, and so alpha K/p: 7 mm/s less.
    const double modulus = 2.19e9, density = 999;
    const auto speed = [&](double fraction) {
        using Dual = needleturn::sim::Dual<double, 1>;
        const Storage storage{1, modulus, {fraction * atmospheric_pressure, 0}};
        const auto pressure = storage.pressure(Dual{storage.virtual_pressure(0), 0, 1.0});
        return std::sqrt(modulus * pressure.slope[0] / density);
    };
    constexpr double printed = 0.005; // m/s, half a unit of the last digit
    CHECK(std::abs(speed(1e-3) - 311.36) < printed + 0.007);
    CHECK(std::abs(speed(1e-2) - 100.48) < printed + 0.007);
}
