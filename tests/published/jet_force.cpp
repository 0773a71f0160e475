// The force of the jet on the disc of a main valve, (47) of models/parts/main_valve.h, against the momentum that it carries away: the
// steady flow force of spools and seats, F = rho q u cos(theta), and the form in which handbooks of fluid power have it for a sharp
// edge at 69 degrees, F = 0.43 A dp (H. E. Merritt, Hydraulic Control Systems, 1967, chapter 5; Lee and Blackburn 1952; from memory).
#include "models/laws/orifice.h"
#include "models/parts/main_valve.h"
#include "scenarios/build.h"
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <vector>

namespace {

using namespace needleturn;
using namespace needleturn::models;
using tests::relative;

const double cos_69 = std::cos(69 * std::numbers::pi / 180);

/// Of the root of a drop, Pa, but for its square: (1) loses a little to its laminar part, 0.14 % at 3.4 bar.
double turbulent_share(double drop) { return 1 - std::sqrt(large_passage_knee / 2 / drop) / 2; }

/// The generic DN65 valve with a jet at 69 degrees, in a liquid of some density (kg/m3).
MainValve with_jet(double density) {
    const std::vector<scenarios::Override> changes{{"main.override.main_valve.jet_angle=69 deg"}};
    auto scenario =
        scenarios::read_scenario(tests::source_folder() + "/scenarios/nursery-bled.toml", changes);
    scenario.liquid = scenarios::Liquid{density, 1e-3, 2e9, 1e3, {}, {}};
    return scenarios::build(scenario).parts.stages.front().valve;
}

/// The lift, m, at which the trim passes a flow.
double lift_for(const MainValve& valve, double flow, double p1, double p2) {
    double low = 0, high = valve.full_lift;
    for (int i = 0; i < 60; ++i) {
        const double middle = (low + high) / 2;
        (valve.trim.flow(p1, p2, middle) < flow ? low : high) = middle;
    }
    return low;
}

} // namespace

TEST_CASE("a jet at 69 degrees closes a DN65 valve with 93 N at 10 L/s from 7.5 to 4.1 bar, by momentum") {
    const auto valve = with_jet(1000);
    constexpr double flow = 0.01, p1 = 7.5 * bar, p2 = 4.1 * bar;
    const double speed = std::sqrt(2 * (p1 - p2) / 1000); // 26.1 m/s
    const double force = valve.jet_force(lift_for(valve, flow, p1, p2), p1, p2);
    CHECK(force == relative(1000 * flow * speed * cos_69 * turbulent_share(p1 - p2), 1e-5));
    CHECK(force == relative(93, 0.01)); // N
}

TEST_CASE("the force of the jet is 0.43 times opening times drop, whatever the liquid's density") {
    for (const double density : {800.0, 1000.0, 1200.0}) {
        auto valve = with_jet(density);
        constexpr double area = 5e-4, discharge = 0.61, drop = 2 * bar;
        valve.trim.capacity = orifice_capacity(discharge, area) * std::sqrt(1000 / density);
        const double force = valve.jet_force(valve.full_lift, 5 * bar + drop, 5 * bar);
        CHECK(force
              == relative(2 * discharge * cos_69 * area * drop * std::pow(turbulent_share(drop), 2), 1e-5));
        CHECK(force == relative(0.43 * area * drop, 0.02)); // two digits
    }
}

TEST_CASE("the jet closes whichever way the water runs, smoothly through no drop, and not at all when shut") {
    const auto valve = with_jet(1000);
    const double lift = valve.full_lift / 3;
    CHECK(valve.jet_force(lift, 6 * bar, 4 * bar) > 0);
    CHECK(valve.jet_force(lift, 4 * bar, 6 * bar) == valve.jet_force(lift, 6 * bar, 4 * bar));
    CHECK(valve.jet_force(-1e-5, 6 * bar, 4 * bar) == 0);
    CHECK(valve.jet_force(lift, 5 * bar, 5 * bar) == 0);
    const double near = valve.jet_force(lift, 5 * bar + 1e-3, 5 * bar);
    CHECK(near
          < 1e-2 * 1e-3 * valve.jet_force(lift, 6 * bar, 5 * bar) / bar); // flat at the foot, not a corner
}
