// Effective area against lift: the force of a pressure times a small stroke is that pressure times what the stroke displaces (virtual
// work), in the main valve, its cover and a diaphragm that gives.
#include "models/parts/main_valve.h"
#include "models/laws/stem.h"
#include "models/parts/cover.h"
#include "models/parts/diaphragm.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

using namespace needleturn;
using namespace needleturn::models;
using tests::relative;

namespace {

constexpr double shut = 7e-3, slope = -0.08, full = 18e-3; // m2, m2/m, m: a fifth less when wide open

} // namespace

TEST_CASE(
    "the effective area is the slope of what it displaces, and grows by the stated share at full lift") {
    for (const double x : {-1e-5, 0.0, 4e-3, 18e-3}) {
        constexpr double h = 1e-4; // a central difference of a parabola is exact
        CHECK((swept(shut, slope, x + h) - swept(shut, slope, x - h)) / (2 * h)
              == relative(area_at(shut, slope, x), 1e-9));
    }
    CHECK(area_at(shut, slope, 0.0) == shut);
    CHECK(area_at(shut, -0.2 * shut / full, full) == relative(0.8 * shut, 1e-12));
}

TEST_CASE("the pressures do on the stem the work that they do on the water it displaces") {
    MainValve valve;
    valve.seat_area = 3.3e-3;
    valve.diaphragm_area = shut;
    valve.area_slope = slope;
    constexpr double p1 = 7.5e5, p2 = 4.1e5, cover = 5.7e5, h = 1e-4;
    const auto work = [&](double x) { // by the volumes of inlet, outlet and cover, (7a)
        const double all = swept(shut, slope, x), under_disc = valve.seat_area * x;
        return p1 * under_disc + p2 * (all - under_disc) - cover * all;
    };
    for (const double x : {0.0, 6e-3, 18e-3})
        CHECK(valve.pressure_force(x, p1, p2, cover)
              == relative((work(x + h) - work(x - h)) / (2 * h), 1e-6));
}

TEST_CASE("a cover loses the room that the diaphragm sweeps") {
    Cover cover;
    cover.volume = 275e-6;
    cover.modulus = 1e9;
    cover.diaphragm_area = shut;
    cover.area_slope = slope;
    constexpr double x = 9e-3, v = 0.02, p = 5e5, h = 1e-6;
    // No flow into it: what is stored stays, dp/dt = -(d stored/dx) v / (d stored/dp).
    const double by_lift = (cover.stored(p, x + h, 0.0) - cover.stored(p, x - h, 0.0)) / (2 * h);
    const double by_pressure = (cover.stored(p + 1e3, x, 0.0) - cover.stored(p - 1e3, x, 0.0)) / 2e3;
    CHECK(cover.pressure_rate(p, x, 0.0, 0.0, v) == relative(-by_lift * v / by_pressure, 1e-6));
    CHECK(cover.room(x) == relative(275e-6 - 9e-3 * (shut + slope * 4.5e-3), 1e-12));
}

TEST_CASE("a stem rests where the spring and the change of area balance the pressures") {
    MainValve valve;
    valve.seat_area = 3.3e-3;
    valve.diaphragm_area = shut;
    valve.area_slope = 0.05;
    valve.full_lift = full;
    valve.moving_mass = 1.65;
    valve.spring_preload = 63;
    valve.spring_rate = 2600;
    constexpr double p1 = 7.5e5, p2 = 4.1e5;
    const double cover = valve.opening_cover_pressure(p1, p2) - 0.01e5;
    const double x = valve.steady_lift(p1, p2, cover);
    CHECK(x > 0);
    CHECK(x < full);
    CHECK(std::abs(valve.pressure_force(x, p1, p2, cover) - 63 - 2600 * x - 1.65 * gravity) < 1e-9);
}
