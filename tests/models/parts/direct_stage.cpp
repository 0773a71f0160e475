// A direct-acting regulator at rest: closed forms of its spring balance. The cock ahead of a stage.
#include "models/parts/direct_stage.h"
#include "models/parts/cock.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

namespace {

using namespace needleturn;
using namespace needleturn::models;
using tests::relative;

const DirectRegulator regulator{.diaphragm_area = 5e-3,
                                .full_lift = 6e-3,
                                .moving_mass = 0.3,
                                .spring_rate = 26e3,
                                .stem_damping = 60,
                                .port_capacity = 7.6e-8,
                                .trim = {2.7e-6, 6e-3, 0.9, 1600, QuickOpening(1.8)},
                                .seat = pilot_stop,
                                .stop = pilot_stop};
constexpr double set = 4e5; // Pa

} // namespace

TEST_CASE("a direct-acting regulator's fall-off is the spring rate times the lift over the diaphragm area") {
    for (const double lift : {1e-3, 3e-3, 5e-3}) {
        const double fall_off = 26e3 * lift / 5e-3;
        CHECK(regulator.steady_lift(set, set - fall_off, 7e5) == relative(lift, 1e-12));
        CHECK(std::abs(regulator.acceleration(lift, 0.0, set, set - fall_off)) < 1e-9);
    }
    CHECK(regulator.steady_lift(set, set + 1e4, 7e5) == 0);
    CHECK(regulator.steady_lift(set, 0, 7e5) == 6e-3);
}

// What the trade calls the supply-pressure effect: seat over diaphragm, against the change at the inlet (a force balance; from memory).
TEST_CASE(
    "a regulator with an unbalanced seat just shuts at its set pressure at the inlet it was set at, and "
    "higher as the inlet falls") {
    auto unbalanced = regulator;
    constexpr double seat = 5e-4, set_at = 7e5; // m2, a tenth of the diaphragm's; Pa
    unbalanced.unbalanced_seat = UnbalancedSeat{seat, set_at};
    CHECK(unbalanced.steady_lift(set, set, set_at) == 0);
    CHECK(unbalanced.steady_lift(set, set - 1, set_at) > 0);
    for (const double inlet : {5e5, 7e5, 9e5}) {
        CAPTURE(inlet);
        const double shuts_at = set - seat / (5e-3 - seat) * (inlet - set_at); // (49)
        CHECK(unbalanced.steady_lift(set, shuts_at + 1, inlet) == 0);
        const double lift = unbalanced.steady_lift(set, shuts_at - 1e4, inlet);
        // Between these the drop closes by seat x 0.1 bar more, the spring opens by diaphragm x 0.1 bar.
        CHECK(lift == relative((5e-3 - seat) * 1e4 / 26e3, 1e-9));
        const double force = unbalanced.moving_mass * unbalanced.acceleration(lift, 0.0, set, shuts_at - 1e4);
        CHECK(force == relative(unbalanced.unbalanced_seat->force(inlet - (shuts_at - 1e4), set), 1e-9));
    }
}

TEST_CASE("the port of a regulator throttles both ways alike") {
    for (const double drop : {1.0, 1e3, 1e5})
        CHECK(regulator.port_flow(set + drop, set) == -regulator.port_flow(set, set + drop));
}

TEST_CASE("a sensing line passes steadily what its port alone passes, but for its own laminar loss") {
    const auto line = SensingLine::of(0.3, 6e-3, regulator.port_capacity, 1000, 1e-3);
    for (const double drop : {-1e5, -1e2, 0.0, 1e3, 1e5}) {
        const double flow = regulator.port_flow(drop, 0.0);
        // Hagen-Poiseuille
        const double own = 128 * 1e-3 * 0.3 / (3.14159265358979 * std::pow(6e-3, 4)) * flow;
        CHECK(std::abs(line.flow_rate(flow, drop + own, 0.0) * line.inertance) <= 1e-9 * std::abs(drop));
    }
}

TEST_CASE("a shut cock weeps no more than rate B of ISO 5208, a half-open one passes a quarter") {
    const Cock cock{7.6e-4};                          // 1000 Cv: that of a DN100
    CHECK(cock.flow(0.0, 10e5, 0.0) < 0.01e-9 * 100); // 0.01 mm3/s per mm of DN; from memory
    CHECK(cock.flow(0.0, 10e5, 0.0) > 0);
    CHECK(cock.flow(0.5, 10e5, 0.0) / cock.flow(1.0, 10e5, 0.0) == relative(0.25, 1e-6)); // the leak
    for (const double opening : {0.0, 0.1, 1.0})
        for (const double drop : {1e-3, 5.0, 3e5})
            CHECK(cock.drop(opening, cock.flow(opening, drop, 0.0)) == relative(drop, 1e-12));
}
