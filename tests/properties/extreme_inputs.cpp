// Inputs at and beyond the edges: the run goes through, and what it shows is physical. No water below its vapour
// pressure, no stem through its stops.

#include "sim/integrate.h"
#include "tests/sampled_run.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <string>
#include <vector>

namespace {

using namespace needleturn;
using namespace needleturn::reference;

struct Extremes {
    double lowest_above_vapour = std::numeric_limits<double>::infinity(); ///< Pa, of all pressures
    std::string lowest_where;
    double below_seat = 0, beyond_stop = 0; ///< m, of the main stem
    double lowest_lift = std::numeric_limits<double>::infinity(), highest_lift = 0;
    double lowest_supply_flow = std::numeric_limits<double>::infinity(); ///< m3/s, out of the source
    double outlet_at_end = 0;                                            ///< Pa
    std::size_t steps = 0;
};

/// Demand of a DN100 as it comes: 8, then 2, then 12 L/s, times `size`.
Schedule ordinary_demand(double size = 1) {
    return demand_steps(8 * size, {{1, 2 * size, 0.3}, {3, 12 * size, 0.3}});
}

struct Situation {
    std::string name;
    Schedule source{7.5 * bar};
    Schedule demand = ordinary_demand();
    Schedule opening{3}, closing{6};
    double air = 0; // m3 in the cover
    models::StationParts made_of = parts();
};

Extremes extremes(const Situation& in) {
    constexpr double duration = 6; // s
    const models::Station station(in.made_of);
    sim::System system(station, {in.source, in.demand, Schedule(static_setting), in.opening, in.closing});
    Eigen::VectorXd y = steady_start(station, system, in.air);
    const auto& stage = station.parts().stages[0];
    std::vector<double> values(system.size() + system.schedules().size());
    Extremes found;
    sim::Counts counts;
    const auto look = [&](double t, const Eigen::VectorXd& stored) {
        system.values(t, stored.data(), values.data());
        for (std::size_t i = 0; i < station.states().size(); ++i)
            if (station.states()[i].unit == "Pa") {
                const double above =
                    values[i] + models::atmospheric_pressure - station.parts().trace.vapour_pressure_abs;
                if (!(above > found.lowest_above_vapour)) {
                    found.lowest_above_vapour = above;
                    found.lowest_where = station.states()[i].name;
                }
            }
        const double lift = values[station.stage(0).lift];
        found.below_seat = std::max(found.below_seat, -lift);
        found.beyond_stop = std::max(found.beyond_stop, lift - stage.valve.full_lift);
        found.lowest_lift = std::min(found.lowest_lift, lift);
        found.highest_lift = std::max(found.highest_lift, lift);
        found.lowest_supply_flow = std::min(found.lowest_supply_flow, values[station.pipe(0).flow.front()]);
        found.outlet_at_end = values[station.outlet()];
    };
    look(0, y);
    sim::integrate(system, y, 0, duration, {}, counts,
                   [&](const auto& stepper) { look(stepper.current_time(), stepper.current_state()); });
    found.steps = counts.steps;
    return found;
}

/// The checks that every situation must pass.
Extremes check(const Situation& in, double deepest = 0.2e-3) {
    CAPTURE(in.name);
    CAPTURE(in.air);
    Extremes found;
    REQUIRE_NOTHROW(found = extremes(in));
    CAPTURE(found.lowest_where);
    CHECK(found.lowest_above_vapour > -1); // Pa: the error that a step may make there
    CHECK(found.below_seat < deepest);
    CHECK(found.beyond_stop < deepest);
    CHECK(found.steps < 30'000); // the most is a quarter of it; a run that stumbles takes millions
    return found;
}

/// The reference stage with every length times `s`, at the same pressures.
models::StationParts sized(double s) {
    auto made_of = parts();
    const double areas = s * s, volumes = areas * s;
    auto& stage = made_of.stages[0];
    stage.valve.seat_area *= areas;
    stage.valve.diaphragm_area *= areas;
    stage.valve.full_lift *= s;
    stage.valve.moving_mass *= volumes;
    stage.valve.spring_preload *= areas;
    stage.valve.spring_rate *= s;
    stage.valve.stem_damping *= areas;
    stage.valve.trim.capacity *= areas;
    stage.valve.trim.full_lift *= s;
    stage.valve.seat.stiffness *= areas; // a longer seat of the same ring
    stage.valve.stop.stiffness *= areas;
    stage.cover.volume *= volumes;
    stage.cover.diaphragm_area *= areas;
    stage.restriction_capacity *= areas;
    stage.tee.per_pascal *= areas;
    for (auto* control : {&stage.opening_control, &stage.closing_control}) {
        control->capacity *= areas;
        control->check_capacity *= areas;
    }
    stage.pilot.capacity *= areas;
    for (auto& run : made_of.pipes)
        run.pipe.bore *= s;
    for (auto& point : made_of.points)
        point.storage.per_pascal *= areas;
    return made_of;
}

constexpr double airs[] = {0, 100e-6, 600e-6}; // bled, spongy, more than half the cover

} // namespace

TEST_CASE("needles shut or shutting: the run goes through and stays physical") {
    for (const double air : airs) {
        Schedule shutting(3);
        shutting.then({2, 0, 1});
        check({.name = "opening control seated", .opening = Schedule(0), .air = air});
        check({.name = "closing control seated", .closing = Schedule(0), .air = air});
        check({.name = "both while running", .opening = shutting, .closing = shutting, .air = air});
    }
}

TEST_CASE(
    "needles shut or shutting stop the water of the cover line: the run goes through and stays physical") {
    for (const double air : airs) {
        Schedule shutting(3);
        shutting.then({2, 0, 1});
        const auto made_of = with_cover_line();
        check({.name = "opening seated", .opening = Schedule(0), .air = air, .made_of = made_of});
        check({.name = "closing seated", .closing = Schedule(0), .air = air, .made_of = made_of});
        check({.name = "both", .opening = shutting, .closing = shutting, .air = air, .made_of = made_of});
        check(
            {.name = "at once", .demand = demand_steps(8, {{1, 0}, {3, 8}}), .air = air, .made_of = made_of});
    }
}

TEST_CASE("both needles seated shut the bled cover in, and the stem stays within 20 um of where it was") {
    const auto found = check({.name = "both seated", .opening = Schedule(0), .closing = Schedule(0)});
    // Two bars more or less in a litre of modulus 1 GPa: 0.2 mL, 12 um under the diaphragm.
    CHECK(found.highest_lift - found.lowest_lift < 20e-6);
}

TEST_CASE("demands of nothing, at once and far beyond capacity: the run goes through and stays physical") {
    for (const double air : airs) {
        const auto shut = check({.name = "no demand", .demand = demand_steps(0), .air = air});
        CHECK(shut.outlet_at_end > static_setting - 0.01 * bar); // it locks up
        CHECK(shut.outlet_at_end < static_setting + 0.1 * bar);
        check({.name = "stops at once", .demand = demand_steps(8, {{1, 0}}), .air = air});
        check({.name = "starts at once", .demand = demand_steps(0, {{1, 8}}), .air = air});
        check({.name = "300 L/s at once", .demand = demand_steps(8, {{1, 300, 0.1}}), .air = air});
        for (const double flow : {300.0, 1000.0, 5000.0}) // a start from which the steady state must be found
            check({.name = "far too much all along", .demand = demand_steps(flow), .air = air});
    }
}

TEST_CASE("supplies of nothing, too little, failing and returning: the run goes through and stays physical") {
    for (const double air : airs) {
        Schedule failing(7.5 * bar), at_once(7.5 * bar), returning(7.5 * bar);
        failing.then({1, 0, 0.2});
        at_once.then({1, 0});
        returning.then({1, 0, 0.2});
        returning.then({4, 7.5 * bar, 0.2});
        const auto none = check({.name = "no supply", .source = Schedule(0), .air = air});
        CHECK(std::abs(none.outlet_at_end) < 0.01 * bar);
        const auto failed = check({.name = "failing", .source = failing, .air = air});
        CHECK(failed.outlet_at_end < 0.2 * bar);
        check({.name = "failing at once", .source = at_once, .air = air});
        check({.name = "failing and returning", .source = returning, .air = air});
        check({.name = "below the setting", .source = Schedule(3 * bar), .air = air});
    }
}

TEST_CASE("100 bar press the disc into its seat as far as the seat is soft, no further") {
    for (const double air : airs) {
        const auto made_of = parts();
        const auto& valve = made_of.stages[0].valve;
        // Half again for the impact.
        const double deepest = 1.5 * valve.diaphragm_area * 100 * bar / valve.seat.stiffness;
        check({.name = "100 bar", .source = Schedule(100 * bar), .air = air}, deepest);
    }
}

TEST_CASE("when the supply falls below the outlet, water flows back through the valve") {
    for (const double air : airs) {
        Schedule falling(7.5 * bar);
        falling.then({1, 0, 0.1});
        const auto found = check({.name = "falling supply",
                                  .source = falling,
                                  .demand = demand_steps(0.5, {{0.5, 0, 0.2}}),
                                  .air = air});
        CHECK(found.lowest_supply_flow < -1e-4); // m3/s
    }
}

TEST_CASE("valves a tenth and ten times the size go through, their own demand or that of a DN100") {
    for (const double size : {0.1, 0.2, 0.5, 2.0, 5.0, 10.0}) {
        CAPTURE(size);
        for (const double air : airs)
            check({.name = "its own demand",
                   .demand = ordinary_demand(size * size),
                   .air = air * size * size * size,
                   .made_of = sized(size)});
        check({.name = "demand of a DN100", .made_of = sized(size)});
    }
}
