// Isentropic flow of air against the tables of NACA Report 1135 (1953), table I: p/p0 and A/A* against the Mach number
// (from memory). The flow through a given area is A*/A of the choked one. And against the choked mass flow
// 0.04042 p0 A / sqrt(T0) in SI units for air with g = 1.4, R = 287 (handbooks of gas dynamics; from memory).
#include "models/parts/bleed.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

using namespace needleturn::models;
using needleturn::tests::relative;

namespace {

constexpr double cold = 288.15; // K

double choked(double from_abs) { return air_nozzle(from_abs, 0.1 * from_abs, cold); }

} // namespace

TEST_CASE("subsonic air through a nozzle follows the table of isentropic flow") {
    struct Row {
        double mach, pressure_ratio, area_ratio;
    };
    // The table has five digits in the pressure ratio and six in the area ratio.
    for (const auto& row :
         {Row{0.2, 0.97250, 2.96352}, Row{0.5, 0.84302, 1.33984}, Row{0.8, 0.65602, 1.03823}}) {
        CAPTURE(row.mach);
        constexpr double inside = 8e5; // at which the laminar knee of the opening is far away
        // Five digits of 1 - p/p0 at Mach 0.2 are 2e-4, and the flow goes with its root.
        CHECK(air_nozzle(inside, row.pressure_ratio * inside, cold) / choked(inside)
              == relative(1 / row.area_ratio, 3e-4));
    }
}

TEST_CASE("choked air through a nozzle is the handbook's mass flow, whatever the pressure outside") {
    for (const double inside : {3e5, 6e5, 9e5}) {
        const double density = atmospheric_pressure / (air_gas_constant * cold);
        // Four digits in the constant, R = 287 in place of 287.05, and the knee: 1e-4 each.
        CHECK(choked(inside) * density == relative(0.04042 * inside / std::sqrt(cold), 3e-4));
        CHECK(air_nozzle(inside, 0.5 * inside, cold) == relative(choked(inside), 1e-12));
        CHECK(air_nozzle(inside, 0.54 * inside, cold) < choked(inside));
    }
}

TEST_CASE("air chokes at 0.528 of the pressure inside") {
    CHECK(critical_air_ratio() == relative(0.5283, 1e-4)); // NACA 1135: 0.52828
}

TEST_CASE("the expansibility factor has no step where its series takes over") {
    CHECK(air_expansibility(1 - 1.0001e-4) == relative(air_expansibility(1 - 0.9999e-4), 1e-7));
    CHECK(air_expansibility(1.0) == 1.0);
}
