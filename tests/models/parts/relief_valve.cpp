// A relief valve at rest: what its spring and the area on which the water acts make of set pressure, overpressure and blow-down.
#include "models/parts/relief_valve.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

namespace {

using namespace needleturn;
using namespace needleturn::models;
using tests::relative;

constexpr double set = 6e5, seat_area = 3.14e-4, full_lift = 5e-3; // Pa, m2, m

ReliefValve valve(double overpressure, double blow_down) {
    const auto snap = ReliefSnap::of(overpressure, blow_down);
    ReliefValve relief;
    relief.set_pressure = set;
    relief.seat_area = seat_area;
    relief.full_lift = full_lift;
    relief.spring_rate = snap.stiffness * seat_area * set / full_lift;
    relief.growth = snap.growth;
    relief.moving_mass = 0.3;
    relief.damping = 20;
    relief.capacity = 9e-6;
    relief.seat = relief.stop = pilot_stop;
    return relief;
}

/// Pa that holds the disc at a share of its lift, by the force balance, away from seat and stop.
double holding(const ReliefValve& relief, double h) {
    return (relief.seat_area * set + relief.spring_rate * h * full_lift)
           / (relief.seat_area * (1 + relief.growth * h * h));
}

} // namespace

TEST_CASE("a relief valve snaps open at its overpressure and shut at its blow-down, whatever they are") {
    for (const double overpressure : {0.01, 0.1, 0.25, 1.0})
        for (const double blow_down : {0.0, 0.07, 0.2, 0.5}) {
            CAPTURE(overpressure);
            CAPTURE(blow_down);
            const auto relief = valve(overpressure, blow_down);
            double greatest = 0;
            for (int i = 0; i <= 100'000; ++i)
                greatest = std::max(greatest, holding(relief, 1e-5 * i));
            CHECK(greatest == relative(set * (1 + overpressure), 1e-8)); // of a parabola's top, seen at 1e-5
            CHECK(holding(relief, 1) == relative(set * (1 - blow_down), 1e-12));
            CHECK(holding(relief, 0) == set);
        }
}

TEST_CASE("a relief valve rests where its forces balance and lifts only above its set pressure") {
    const auto relief = valve(0.1, 0.1);
    CHECK(relief.steady_lift(set - 1) == 0);
    CHECK(relief.acceleration(0.0, 0.0, set - 1) < 0);
    CHECK(relief.acceleration(0.0, 0.0, set + 1) > 0);
    double before = 0;
    for (const double over : {0.001, 0.02, 0.05, 0.09, 0.0999}) {
        const double p = set * (1 + over), lift = relief.steady_lift(p);
        CHECK(lift > before);
        CHECK(lift < 0.5 * full_lift); // the branch that is reached from below
        CHECK(std::abs(relief.acceleration(lift, 0.0, p)) < 1e-9 * set * seat_area / relief.moving_mass);
        before = lift;
    }
    CHECK(relief.steady_lift(1.1001 * set) == full_lift);
    // Held against its stop down to the pressure at which it shuts.
    CHECK(relief.acceleration(full_lift, 0.0, 0.9001 * set) > 0);
    CHECK(relief.acceleration(full_lift, 0.0, 0.8999 * set) < 0);
}

TEST_CASE("a relief valve on its seat passes nothing and one at full lift its capacity") {
    const auto relief = valve(0.1, 0.1);
    for (const double lift : {-1e-5, 0.0})
        CHECK(relief.flow(lift, set) == 0);
    // 2 um of rim, and half a knee of 5 Pa
    CHECK(relief.flow(full_lift, 1.1 * set) == relative(9e-6 * std::sqrt(1.1 * set), 2e-3));
    CHECK(relief.flow(full_lift / 2, 1.1 * set) == relative(0.5 * 9e-6 * std::sqrt(1.1 * set), 2e-3));
    CHECK(relief.flow(full_lift, -5e4) < 1e-8); // air is not let in
}
