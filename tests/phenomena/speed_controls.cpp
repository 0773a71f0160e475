// What the two needles buy and what they cost. Figures of a trial of this model with another program; a sanity
// range of +-30 %. Of pressures the range applies to the distance from the flowing setting, 4.14 bar, which says
// more than the pressure itself.

#include "sim/modes.h"
#include "tests/relative.h"
#include "tests/sampled_run.h"

#include <doctest/doctest.h>

#include <cmath>
#include <map>

namespace {

using namespace needleturn;
using namespace needleturn::reference;
using tests::relative;

constexpr double sanity = 0.3;

/// Demand falls from 8 to 2 L/s in 0.3 s. Peak-to-peak, Pa, once the hunting has found its limit cycle, which takes
/// the slowest case (closing control at 1 turn) some 25 s.
struct Fall {
    double hunting, peak;
};
Fall fall(double opening, double closing) {
    const auto samples = run({demand_steps(8, {{2, 2, 0.3}}), 35, 0, opening, closing});
    return {peak_to_peak(Samples::from(samples.outlet, 30)), highest(samples.outlet)};
}

/// Lowest outlet pressure, Pa, while demand rises in 0.3 s at 2 s from a steady state.
double sag(double opening, double from, double to) {
    return lowest(run({demand_steps(from, {{2, to, 0.3}}), 6, 0, opening}).outlet);
}

} // namespace

TEST_CASE("the fewer turns the opening control is open, the calmer the hunting") {
    std::map<double, double> hunting;
    double before = 0;
    for (const double turns : {0.5, 1.0, 2.0, 3.0, 6.0}) {
        CAPTURE(turns);
        hunting[turns] = fall(turns, 6).hunting;
        CHECK(hunting[turns] > before);
        before = hunting[turns];
    }
    CHECK(hunting[2] == relative(2.5 * bar, sanity));
    CHECK(hunting[3] == relative(3.1 * bar, sanity));
    CHECK(hunting[6] == relative(3.6 * bar, sanity));
    // The trial had 0.05 and 0.16 bar at 0.5 and 1 turn; here it is 0.095 and 0.24. Two reasons, both outside the
    // needle. At 1 turn the swing creeps up for 25 s at a few hundredths a second: the trial's 0.16 is passed
    // through at 4 s. At 0.5 turns the swing is as large as the checks' opening span makes it: 0.04, 0.095, 0.2 bar
    // for spans of 0.5, 2, 8 kPa. So what is asked is that a residual is left, less than a tenth of the swing at 3.
    for (const double turns : {0.5, 1.0}) {
        CAPTURE(turns);
        CHECK(hunting[turns] > visible);
        CHECK(hunting[turns] < 0.1 * hunting[3]);
    }
}

TEST_CASE("a needle bounds the hunting but does not move its limit") {
    // Motions too small to shut a check pass the needles freely. What throttles is the swing.
    const auto growth = [](double opening) {
        const models::Station station(parts());
        const sim::System system(station, drives(demand_steps(2), Schedule(opening)));
        for (const auto& mode : sim::find_modes(system, 0, steady_start(station, system, 0)))
            if (mode.oscillates() && mode.frequency < 8)
                return mode.eigenvalue.real();
        return 0.0;
    };
    CHECK(growth(6) > 0);
    CHECK(growth(0.5) == relative(growth(6), 0.1));
}

TEST_CASE("the price: the fewer turns the opening control is open, the deeper the sag on a rise of demand") {
    double before = -2 * bar;
    for (const double turns : {0.5, 1.0, 2.0, 3.0, 6.0}) {
        CAPTURE(turns);
        const double lowest_pressure = sag(turns, 2, 12);
        CHECK(lowest_pressure > before + 0.2 * bar); // 0.3 bar between the two closest
        before = lowest_pressure;
    }
    // "To about 0 bar at 0.5 turns": a sag of 4.14 bar.
    CHECK(flowing_setting - sag(0.5, 2, 12) == relative(flowing_setting, sanity));
    // And where the valve does not hunt at either end.
    CHECK(sag(0.5, 8, 18) < sag(3, 8, 18) - 0.5 * bar);
}

TEST_CASE("the fewer turns the closing control is open, the higher the surge and the calmer the hunting") {
    struct Figure {
        double turns, peak, hunting; // bar
    };
    double peak_before = 0, hunting_before = 10 * bar;
    // Hunting at 1 turn: 0.14 in the trial; here it passes 0.18 at 5 s and creeps up to 0.27 in 25 s, as with the
    // opening control. At 0.5 turns 0.07 and 0.05, set by the checks' opening span.
    for (const auto& [turns, trial_peak, trial_hunting] :
         {Figure{6, 6.9, 3.1}, {2, 7.2, 1.9}, {1, 7.5, 0}, {0.5, 7.7, 0}}) {
        CAPTURE(turns);
        const auto result = fall(3, turns);
        CHECK(result.peak - flowing_setting == relative(trial_peak * bar - flowing_setting, sanity));
        CHECK(result.peak > peak_before + 0.1 * bar);
        CHECK(result.hunting < hunting_before);
        if (trial_hunting > 0)
            CHECK(result.hunting == relative(trial_hunting * bar, sanity));
        else
            CHECK(result.hunting < 0.1 * 3.1 * bar);
        peak_before = result.peak;
        hunting_before = result.hunting;
    }
}
