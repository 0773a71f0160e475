// Where the reference stage begins to hunt, and what trapped air does to that. The figures come from a trial of this
// model with another program (two lumped pipes, other stops); they are a sanity range of +-30 %, not a target.

#include "sim/modes.h"
#include "tests/relative.h"
#include "tests/sampled_run.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <vector>

namespace {

using namespace needleturn;
using namespace needleturn::reference;
using tests::relative;

constexpr double sanity = 0.3;

/// The slow oscillation (0.2 to 8 Hz) that is least damped at a steady flow, L/s.
sim::Mode slow_mode(double flow, double air, double opening = 3) {
    const models::Station station(parts());
    const sim::System system(station, drives(demand_steps(flow), Schedule(opening)));
    for (const auto& mode : sim::find_modes(system, 0, steady_start(station, system, air)))
        if (mode.oscillates() && mode.frequency > 0.2 && mode.frequency < 8)
            return mode;
    return {};
}

double growth(double flow, double air) { return slow_mode(flow, air).eigenvalue.real(); }

/// The flow, L/s, at which growth turns into decay (or back) between two flows.
double boundary(double from, double to, double air) {
    const bool grows = growth(from, air) > 0;
    while (to / from - 1 > 1e-4) {
        const double middle = std::sqrt(from * to);
        ((growth(middle, air) > 0) == grows ? from : to) = middle;
    }
    return from;
}

/// The flow, L/s, above which every slow mode decays.
double hunting_limit(double air) { return boundary(1, 40, air); }

/// Growth of a small motion, 1/s, from its swings. What stirs it, a hundred-thousandth of the flow, keeps the drops
/// across the needles within their laminar pascals even after growing for 12 s.
double measured_growth(double flow) {
    Case asked{demand_steps(flow * (1 + 1e-5), {{0.5, flow, 0.1}}), 12};
    asked.tolerance = 1e-10;
    const auto samples = run(asked);
    constexpr double least = 1e-3; // Pa
    const auto seen = sim::find_hunting(Samples::from(samples.outlet, 5), sample_interval, least);
    return -seen.log_decrement * seen.frequency;
}

} // namespace

TEST_CASE("without air the stage hunts below 3.8 L/s at 3.6 Hz, within 30 %") {
    const double limit = hunting_limit(0);
    CHECK(limit == relative(3.8, sanity));
    CHECK(slow_mode(limit, 0).frequency == relative(3.6, sanity));
}

TEST_CASE("the more air of 0, 20, 100, 200 and 300 mL, the higher the limit and the lower its frequency") {
    struct Figure {
        double air, limit, frequency; // mL, L/s, Hz
    };
    double limit_before = 0, frequency_before = 1e9;
    for (const auto& [air, trial_limit, trial_frequency] :
         {Figure{0, 3.8, 3.6}, {20, 5.7, 3.3}, {100, 9.1, 1.3}, {200, 15, 1.1}, {300, 20, 0.95}}) {
        CAPTURE(air);
        const double limit = hunting_limit(air * 1e-6);
        const double frequency = slow_mode(limit, air * 1e-6).frequency;
        CHECK(limit == relative(trial_limit, sanity));
        CHECK(frequency == relative(trial_frequency, sanity));
        CHECK(limit > limit_before);
        CHECK(frequency < frequency_before);
        limit_before = limit;
        frequency_before = frequency;
    }
}

// Two modes are at work, one near 3 Hz and one near 1.3 Hz. Air lifts the limit of the first up to some 25 mL and
// then lowers it; from 50 mL the second has the higher limit. Between them the limit dips: more air is not always
// worse than less, but any air is worse than none.
TEST_CASE("any trapped air raises the hunting limit, by 15 % or more from 10 mL on") {
    const double bled = hunting_limit(0);
    for (const double air : {2e-6, 5e-6})
        CHECK(hunting_limit(air) > bled);
    for (const double air : {10e-6, 30e-6, 40e-6, 50e-6, 70e-6})
        CHECK(hunting_limit(air) > 1.15 * bled);
}

// The trial found decay again below 0.2 L/s. Here it is below 0.054 L/s: what the pilot alone lets pass. Above that
// the main valve has to leave its seat, if only by micrometres, and how it does so (the rounding of seat and rim,
// 1 and 2 um here) decides. Neither is known for a real seat, so the criterion is the mechanism.
TEST_CASE("hunting reaches down to the flow that the pilot carries alone, with the main valve on its seat") {
    const double lower = boundary(0.02, 1, 0);
    CHECK(lower < 0.2 * (1 + sanity));
    const models::Station station(parts());
    const auto at = [&](double flow) {
        const sim::System system(station, drives(demand_steps(flow)));
        const auto y = steady_start(station, system, 0);
        std::vector<double> values(system.size() + system.schedules().size()),
            signals(station.signals().size());
        system.values(0, y.data(), values.data());
        station.observe(values, signals);
        return signals[2] / signals.back(); // the pilot's share of the demand
    };
    CHECK(at(0.9 * lower) == relative(1, 1e-6)); // seated
    CHECK(at(1.2 * lower) < 0.95);
}

TEST_CASE("a small motion in a run grows and decays at the rate of its mode") {
    for (const double flow : {2.0, 6.0}) {
        CAPTURE(flow);
        CHECK(measured_growth(flow) == relative(growth(flow, 0), 0.03)); // other modes are down to 1 % by 5 s
    }
}

TEST_CASE("a run at three quarters of the limit hunts for good, at one and a quarter it rings down") {
    const double limit = hunting_limit(0);
    const auto after = [&](double share) {
        const auto samples = run({demand_steps(10, {{2, share * limit, 0.3}}), 25});
        return hunting(Samples::from(samples.outlet, 3));
    };
    const auto below = after(0.75), above = after(1.25);
    CHECK(below.kind == sim::Hunting::Kind::sustained);
    CHECK(below.frequency == relative(3.6, sanity));
    CHECK(below.peak_to_peak > 1 * bar);
    CHECK(above.kind != sim::Hunting::Kind::sustained);
    CHECK(above.kind != sim::Hunting::Kind::growing);
}

// The trial saw the cover's mode grow, near 60 Hz, with 300 mL and a stem damping of 200 N s/m. With the 1000 N s/m
// of this stage it decays, the slower the more air and the less flow.
TEST_CASE("300 mL of air bring the cover's own mode near 60 Hz to the brink") {
    const auto fast_mode = [](double air) {
        const models::Station station(parts());
        const sim::System system(station, drives(demand_steps(0.25)));
        for (const auto& mode : sim::find_modes(system, 0, steady_start(station, system, air)))
            if (mode.oscillates() && mode.frequency > 30)
                return mode;
        return sim::Mode{};
    };
    const auto much = fast_mode(300e-6), some = fast_mode(100e-6);
    CHECK(much.frequency == relative(60, sanity));
    CHECK(much.damping_ratio < 0.02);
    CHECK(some.damping_ratio > 0.05);
}
