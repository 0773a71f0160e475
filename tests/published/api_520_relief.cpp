// Flow of a relief valve through its seat, against the formula by which such valves are sized for liquids: API 520-1,
//     A = Q / (38 Kd Kw Kc Kv) sqrt(G / (p1 - p2)),   in2, US gpm, psi,
// with its example for crude oil, G = 0.9: 1800 gpm at 275 psi against 50 psi, Kd 0.65, Kw 0.97: 4.752 in2. Formula and example are
// from memory. The constant is that of an orifice, sqrt(2) in those units, rounded to two digits: 0.03 %.
#include "scenarios/liquid.h"
#include "scenarios/part_builder.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>
#include <optional>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double inch = 25.4e-3, psi = 6894.757293168361; // NIST SP 811 (2008)
constexpr double gpm = 3.785411784e-3 / 60;

double by_formula(double area, double kd, double gravity, double drop) {
    return 38 * kd * area * std::sqrt(drop / gravity);
}

} // namespace

TEST_CASE("the formula gives the example of its standard") {
    CHECK(by_formula(4.752, 0.65 * 0.97, 0.9, 275 - 50) == relative(1800, 2e-4));
}

TEST_CASE(
    "a relief valve at full lift passes what API 520-1 has for its bore with the coefficient for liquids") {
    auto liquid = models::water_at(288.15, 20e5);
    for (const double gravity : {1.0, 0.9, 1.2}) {
        liquid.density = gravity * 1000;
        const scenarios::PartBuilder builder(liquid, 288.15, std::nullopt);
        for (const double bore : {0.5, 1.0, 2.46})          // in
            for (const double set : {50.0, 125.0, 250.0}) { // psi
                scenarios::ReliefValve described;
                described.set_pressure = set * psi;
                described.seat_bore = bore * inch;
                const auto relief = builder.relief_valve(described, 0);
                const double area = std::acos(-1) / 4 * bore * bore;
                // The constant is rounded by 0.03 %, and a capacity counts G from 1000 kg/m3, 0.1 % more than water has: 0.05 %.
                CHECK(relief.flow(relief.full_lift, 1.1 * set * psi) / gpm
                      == relative(by_formula(area, 0.65, gravity, 1.1 * set), 1e-3));
            }
    }
}

TEST_CASE("a relief valve whose flow is stated passes that at set pressure and overpressure") {
    const auto water = models::water_at(288.15, 6e5);
    const scenarios::PartBuilder builder(water, 288.15, std::nullopt);
    scenarios::ReliefValve described;
    described.set_pressure = 6e5;
    described.overpressure = 0.25;
    described.seat_bore = 20e-3;
    described.rated_flow = 3e-3;
    const auto relief = builder.relief_valve(described, 0);
    CHECK(relief.flow(relief.full_lift, 7.5e5)
          == relative(3e-3, 1e-12 + std::abs(std::sqrt(1000 / water.density) - 1)));
}
