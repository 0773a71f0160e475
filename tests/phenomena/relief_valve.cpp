// A relief valve at the end of a pipe from a reservoir whose pressure rises and falls: what its set pressure, overpressure and
// blow-down say of it (the terms are those of ISO 4126-1 and API 520-1, from memory), and when it chatters.
//
// That a valve too large for its line chatters, because the loss of the line takes away the pressure that opened it, and that a
// long line makes it worse, because the answer of the reservoir comes late, is the trade's rule (API 520-2: the loss of the inlet
// line is to stay below 3 % of the set pressure; from memory).
#include "scenarios/liquid.h"
#include "scenarios/part_builder.h"
#include "tests/pipe_line.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double bar = 1e5, litre = 1e-3;

struct Rig {
    double length = 2, bore = 80e-3;    ///< m, of the pipe
    double seat_bore = 20e-3;           ///< m
    std::optional<double> damping = {}; ///< N s/m
    Schedule reservoir = Schedule(0);   ///< Pa
    double duration = 20;               ///< s
};

scenarios::ReliefValve described(const Rig& rig) {
    scenarios::ReliefValve relief;
    relief.set_pressure = 6 * bar;
    relief.seat_bore = rig.seat_bore;
    relief.damping = rig.damping;
    return relief;
}

/// N s/m that (64) asks for, of the valve of 20 mm: 0.15 kg, 7.45 L/s, 5 mm, 314 mm2.
double calm_damping() {
    const auto relief = described({});
    return models::ReliefValve::calm_damping(0.15, relief.full_flow(), relief.lift(), relief.seat_area());
}
double dashpot() { return 1.1 * calm_damping(); }

struct Seen {
    double opens = std::numeric_limits<double>::quiet_NaN(); ///< Pa at the valve when it first lifts
    double full = std::numeric_limits<double>::quiet_NaN();  ///< Pa when it first stands fully open
    double shuts = std::numeric_limits<double>::quiet_NaN(); ///< Pa when it is last seen to leave its stop
    double most = 0;                                         ///< m3/s
    double most_at = 0;                                      ///< Pa, of that flow
    std::size_t openings = 0;
    bool open_at_end = false;
};

Seen run(const Rig& rig) {
    const auto described_as = described(rig);
    const auto water = models::water_at(288.15, 7 * bar);
    const scenarios::PartBuilder builder(water, 288.15, std::nullopt);
    models::StationParts parts;
    parts.trace = builder.trace();
    parts.points = {{"valve", {1e-12, 2e9, parts.trace}}};
    parts.inlet = parts.outlet = 0;
    models::Pipe pipe;
    pipe.length = rig.length;
    pipe.bore = rig.bore;
    pipe.wave_speed = 1200;
    pipe.density = water.density;
    pipe.viscosity = water.viscosity;
    pipe.roughness = 5e-5;
    pipe.cells = 20;
    parts.pipes = {{"pipe", pipe, std::nullopt, 0}};
    parts.relief_valves = {builder.relief_valve(described_as, 0)};
    tests::LineRun line(parts, {rig.reservoir});
    const auto& at = line.station().relief_valve(0);
    const auto& relief = line.station().parts().relief_valves[0];
    Seen seen;
    bool open = false, at_stop = false;
    line.run(rig.duration, 1e-3, 1e-6, [&](double) {
        const double lift = line.value(at.lift), p = line.valve_pressure();
        if (lift > 0 && !open && seen.openings++ == 0)
            seen.opens = p;
        open = lift > 0;
        const bool now_at_stop = lift > relief.full_lift;
        if (now_at_stop && std::isnan(seen.full))
            seen.full = p;
        if (at_stop && !now_at_stop)
            seen.shuts = p;
        at_stop = now_at_stop;
        if (const double q = relief.flow(lift, p); q > seen.most) {
            seen.most = q;
            seen.most_at = p;
        }
    });
    seen.open_at_end = open;
    return seen;
}

/// From 4 bar to `top` in half the time, and back.
Schedule up_and_down(double top, double duration) {
    Schedule pressure(4 * bar);
    pressure.then({0, top, duration / 2});
    pressure.then({duration / 2, 4 * bar, duration / 2});
    return pressure;
}

} // namespace

TEST_CASE(
    "a relief valve on a short wide line opens once at its set pressure, fully by its overpressure, and "
    "shuts at its blow-down") {
    const auto seen = run({.damping = dashpot(), .reservoir = up_and_down(7 * bar, 20)});
    MESSAGE("opens ", seen.opens / bar, ", full ", seen.full / bar, ", shuts ", seen.shuts / bar, " bar, ",
            seen.openings, " openings, ", seen.most / litre, " L/s");
    CHECK(seen.openings == 1);
    CHECK(seen.opens == relative(6 * bar, 1e-3)); // 3 mbar in a ms of the ramp, and the seat's 22 um
    CHECK(seen.full < 6.6 * bar);
    CHECK(seen.shuts == relative(5.4 * bar, 0.01));
    CHECK_FALSE(seen.open_at_end);
    // Its capacity, with the root of the pressure: API 520-1, 0.65 of a nozzle without loss (from memory).
    const auto relief = described({});
    CHECK(seen.most
          == relative(0.65 * relief.seat_area() * std::sqrt(2 * seen.most_at / 1000),
                      2e-3)); // as water has 999
}

TEST_CASE("a relief valve below its set pressure passes nothing") {
    const auto seen = run({.reservoir = up_and_down(5.95 * bar, 4), .duration = 4});
    CHECK(seen.openings == 0);
    CHECK(seen.most == 0);
}

namespace {

/// The reservoir rises within 0.1 s from below the set pressure to above that of the full lift, and stays. Of the damping that
/// (64) asks for the valve has a tenth where none is stated.
Seen rise(double length, double bore, double seat_bore, std::optional<double> damping = {}) {
    Schedule pressure(5.8 * bar);
    pressure.then({0.2, 6.8 * bar, 0.1});
    return run({.length = length,
                .bore = bore,
                .seat_bore = seat_bore,
                .damping = damping,
                .reservoir = pressure,
                .duration = 3});
}

} // namespace

TEST_CASE("a relief valve that fits its line opens once and one too large for it chatters"
          * doctest::test_suite("long")) {
    // A line of 80 mm loses 1 % of the set pressure and less at the rated flow, 25 mm with a valve of 20 mm the whole of it.
    CHECK(rise(20, 80e-3, 20e-3).openings == 1);
    CHECK(rise(20, 80e-3, 8e-3).openings == 1);
    CHECK(rise(20, 25e-3, 8e-3).openings == 1);
    for (const double length : {20.0, 100.0}) {
        CAPTURE(length);
        const auto large = rise(length, 25e-3, 20e-3);
        MESSAGE("chatters: ", large.openings, " openings in 2.7 s");
        CHECK(large.openings > 100);
        // A smaller valve, or one with a dashpot, on the same line: that it chatters is of the valve and the line together.
        CHECK(rise(length, 25e-3, 8e-3).openings == 1);
        CHECK(rise(length, 25e-3, 20e-3, dashpot()).openings == 1);
    }
}

// The bound is our own, (64); that friction between disc and guide, or a dashpot, ends chatter is the trade's rule.
TEST_CASE("a disc that is damped less than its law asks for buzzes on a short stiff line and one damped "
          "more does not"
          * doctest::test_suite("long")) {
    const auto simmering = [](double share) {
        // A little above the set pressure: the disc stands open by a few hundredths of its lift.
        Schedule pressure(5.8 * bar);
        pressure.then({0.2, 6.1 * bar, 0.2});
        return run({.damping = share * calm_damping(), .reservoir = pressure, .duration = 1.5}).openings;
    };
    CHECK(simmering(0) > 50);
    CHECK(simmering(0.05) > 50);
    CHECK(simmering(1.1) == 1);
}
