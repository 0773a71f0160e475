// Water is neither made nor lost. The account, all volumes at the density of 0 gauge:
//
//     taken in - delivered = change of what the station holds
//
//     points, cells of pipes, tees   C b
//     inlet            and           A_s x           the disc, risen by x, leaves room under it
//     outlet           and           W(x) - A_s x    as does the diaphragm around it, (46)
//     cover                          phi V_w         models/cover.h
//     sensing chamber                C b - A_p y     the pilot's diaphragm moves into it as the pilot opens
//     air pocket                     -V              what the air leaves free, water fills
//     relief valve                   A_s x           its disc, risen by x, leaves room; what it lets out counts as delivered
//
// with b the virtual pressures, in which storages are linear. All of it is linear in the states but for the cover and an area that
// changes: a Rosenbrock method keeps the linear part to rounding and the rest to the error of the integration.

#include "sim/integrate.h"
#include "tests/held_water.h"
#include "tests/pressed_stage.h"
#include "tests/sampled_run.h"
#include "tests/sticking_stage.h"
#include "tests/two_steps.h"
#include "tests/warm_gases.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

namespace {

using namespace needleturn;
using namespace needleturn::reference;

struct Balance {
    double throughput; ///< m3
    double lost;       ///< m3: taken in, neither delivered nor held; the worst of the run
    double let_out;    ///< m3, of the throughput, by a relief valve
};

Balance balance(const Case& asked, const models::StationParts& made_of = parts()) {
    const models::Station station(made_of);
    auto schedules = drives(asked.demand, Schedule(asked.opening), Schedule(asked.closing));
    if (made_of.stages[0].sustaining) { // shut, and open again
        Schedule held(5 * bar);
        held.then({3, 7.6 * bar, 1});
        held.then({7, 6 * bar, 1});
        schedules.insert(schedules.begin() + 3, held);
    }
    if (made_of.strainer)
        schedules.insert(schedules.begin() + 2, Schedule(0.1));
    if (made_of.stages.size() > 1)
        schedules = two_step_drives(std::move(schedules));
    sim::System system(station, std::move(schedules));
    Eigen::VectorXd y = steady_start(station, system, asked.air);
    const double at_start = held(station, y);
    sim::Counts counts;
    Balance result{};
    sim::integrate(system, y, 0, asked.duration, {asked.tolerance}, counts, [&](const auto& stepper) {
        const Eigen::VectorXd now = stepper.current_state();
        const double taken = now[Eigen::Index(station.supply_meter())];
        double delivered = now[Eigen::Index(station.demand(0).meter)];
        for (std::size_t i = 0; i < made_of.relief_valves.size(); ++i) {
            result.let_out = now[Eigen::Index(station.relief_valve(i).meter)];
            delivered += result.let_out;
        }
        result.throughput = delivered;
        result.lost = std::max(result.lost, std::abs(taken - delivered - (held(station, now) - at_start)));
    });
    return result;
}

} // namespace

// Wanted is 1e-8 of the throughput. At the default tolerance the account closes five to a thousand times
// better; what is left is the cover's (see above), and it falls with the tolerance, as the last case shows.
constexpr double asked_of_the_account = 1e-8;

TEST_CASE("water balances over a run of steady flows") {
    const auto result = balance({demand_steps(20, {{20, 12, 1}, {50, 8, 1}}), 80});
    CHECK(result.throughput > 0.9);
    CHECK(result.lost < asked_of_the_account * result.throughput);
}

TEST_CASE("water balances while the valve hunts and strikes its seat") {
    const auto result = balance({demand_steps(10, {{5, 3, 1}, {10, 1, 1}, {15, 0.3, 1}}), 20});
    CHECK(result.lost < asked_of_the_account * result.throughput);
}

TEST_CASE("water balances over two steps with air in both covers and without") {
    for (const double air : {0.0, 100e-6}) {
        CAPTURE(air);
        const auto result =
            balance({demand_steps(10, {{5, 3, 1}, {10, 1, 1}, {15, 0.3, 1}}), 20, air}, two_step_parts());
        CHECK(result.throughput > 0.04);
        CHECK(result.lost < asked_of_the_account * result.throughput);
    }
}

TEST_CASE("water balances while stems stick and slip") {
    const auto result =
        balance({demand_steps(10, {{5, 3, 1}, {10, 1, 1}, {15, 0.3, 1}}), 20, 100e-6}, sticking_parts());
    CHECK(result.lost < asked_of_the_account * result.throughput);
}

TEST_CASE("water balances while the diaphragm gives, with air and without") {
    auto made_of = parts();
    made_of.stages[0].diaphragm = models::Diaphragm{made_of.stages[0].valve.diaphragm_area, 5e-12};
    for (const double air : {0.0, 100e-6}) {
        CAPTURE(air);
        const auto result =
            balance({demand_steps(10, {{5, 3, 1}, {10, 1, 1}, {15, 0.3, 1}}), 20, air}, made_of);
        CHECK(result.lost < asked_of_the_account * result.throughput);
    }
}

TEST_CASE("water balances while the effective area changes and jet and seats press on the stems") {
    for (const double change : {-0.2, 0.2})
        for (const bool gives : {false, true}) {
            CAPTURE(change);
            CAPTURE(gives);
            const auto result = balance({demand_steps(10, {{5, 3, 1}, {10, 1, 1}, {15, 0.3, 1}}), 20, 100e-6},
                                        pressed_parts(change, gives));
            CHECK(result.lost < asked_of_the_account * result.throughput);
        }
}

TEST_CASE("water balances while the water of the cover line swings, with air and without") {
    for (const double air : {0.0, 100e-6}) {
        CAPTURE(air);
        const auto result =
            balance({demand_steps(10, {{5, 3, 1}, {10, 1, 1}, {15, 0.3, 1}}), 20, air}, with_cover_line());
        CHECK(result.lost < asked_of_the_account * result.throughput);
    }
}

TEST_CASE("water balances with trapped air, also while the column parts") {
    for (const double air : {100e-6, 200e-6, 300e-6}) {
        CAPTURE(air);
        const auto result = balance({demand_steps(20, {{1.5, 2, 1}}), 12, air});
        CHECK(result.lost < asked_of_the_account * result.throughput);
    }
}

TEST_CASE("water balances with elastic pipes of many cells and an air pocket at the far end") {
    auto made_of = parts();
    for (auto& run : made_of.pipes) {
        run.pipe.wave_speed = 1200;
        run.pipe.cells = 5;
    }
    made_of.air_pockets.push_back({"pocket", 2, 2e-3, 1.2, cv(10)});
    const auto result = balance({demand_steps(10, {{2, 2, 0.3}, {6, 0, 0.1}}), 10}, made_of);
    CHECK(result.lost < asked_of_the_account * result.throughput);
}

TEST_CASE("water balances while a relief valve snaps open and shut") {
    auto made_of = with_relief_valve();
    for (auto& run : made_of.pipes) {
        run.pipe.wave_speed = 1200;
        run.pipe.cells = 5;
    }
    const auto result = balance({demand_steps(10, {{2, 0.5, 0.2}, {6, 8, 0.5}}), 10}, made_of);
    CHECK(result.let_out > 1e-5); // it does open
    CHECK(result.lost < asked_of_the_account * result.throughput);
}

TEST_CASE("water balances through a strainer that is clogged and ahead of a check valve") {
    const auto demand = demand_steps(10, {{2, 0.5, 0.2}, {6, 8, 0.5}});
    const auto strained = balance({demand, 10}, with_strainer());
    CHECK(strained.lost < asked_of_the_account * strained.throughput);
    const auto checked = balance({demand, 10}, with_check_valve(false));
    CHECK(checked.lost < asked_of_the_account * checked.throughput);
}

TEST_CASE("water balances while a sustaining pilot shuts the valve and lets it open again") {
    const auto result = balance({demand_steps(10), 15}, with_sustaining_pilot());
    CHECK(result.throughput > 0.02);
    CHECK(result.lost < asked_of_the_account * result.throughput);
}

TEST_CASE("water balances while gases in cover and line and vessel warm and cool") {
    auto made_of = parts();
    made_of.air_pockets = {{"pocket", 2, 2e-3, 1.4, cv(10)}, {"vessel", 1, 20e-3, 1.4, cv(10), 5e-3}};
    for (const double time : {0.05, 2.0}) {
        CAPTURE(time);
        const auto result =
            balance({demand_steps(10, {{2, 2, 0.3}, {6, 0, 0.1}}), 10, 100e-6}, tests::warm(made_of, time));
        CHECK(result.lost < asked_of_the_account * result.throughput);
    }
}

TEST_CASE("what the account misses is the error of the integration: ten times less tolerance, a third of it "
          "or less") {
    Case asked{demand_steps(20, {{1.5, 2, 1}}), 12, 300e-6};
    const double loose = balance(asked).lost;
    asked.tolerance = 1e-6;
    const double tight = balance(asked).lost;
    CHECK(tight < loose / 3); // measured 15; a cover that loses water by its equations would give 1
}
