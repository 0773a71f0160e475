// What a clogged strainer does to gauges, and a check valve to water that would run back: trade lore (common practice, no source).
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

using Changes = std::vector<scenarios::Override>;

constexpr double bar = 1e5, litre = 1e-3; // Pa, m3

scenarios::Scenario elmhurst(const Changes& changes = {}) {
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/elmhurst-strainer.toml", changes);
}

/// At flows one after the other, 0.5, 1, 2, 6 and again 0.5 L/s, then nothing, with so much of the strainer open.
std::vector<EventVerdict> at_flows(const std::string& open) {
    return simulate(elmhurst({{"supply.steps=[]"},
                              {"supply.strainer.steps=[]"},
                              {"supply.strainer.open=" + open},
                              {"demand.start=0.5 L/s"},
                              {"demand.steps=[{ at = '10 s', to = '1 L/s', over = '1 s' }, "
                               "{ at = '20 s', to = '2 L/s', over = '1 s' }, "
                               "{ at = '30 s', to = '6 L/s', over = '1 s' }, "
                               "{ at = '45 s', to = '0.5 L/s', over = '5 s' }, "
                               "{ at = '65 s', to = '0 L/s', over = '1 s' }]"},
                              {"run.duration=80 s"}}))
        .verdict;
}

/// The supply fails at 2 s with nothing drawn.
Outcome burst(bool checked) {
    auto scenario = elmhurst({{"supply.steps=[{ at = '2 s', to = '0 bar', over = '1 s' }]"},
                              {"supply.strainer.steps=[]"},
                              {"demand.start=0 L/s"},
                              {"demand.steps=[]"},
                              {"run.duration=40 s"}});
    if (!checked)
        for (auto& stage : scenario.stages)
            stage.check_valve.reset();
    return simulate(scenario);
}

} // namespace

TEST_CASE("behind a clogged strainer the inlet falls with the square of the flow and is right at rest") {
    const auto events = at_flows("0.05");
    REQUIRE(events.size() == 6);
    for (const auto& event : events)
        REQUIRE(event.strainer);
    const auto& one = *events[1].strainer;
    const auto& two = *events[2].strainer;
    // The flow behind the strainer alone draws: twice the flow, four times the drop, but for the laminar knee of 5 Pa: 1.7 % at 0.08 bar.
    CHECK(two.drop / one.drop == relative(std::pow(two.flow / one.flow, 2), 0.02));
    CHECK(two.flow / one.flow > 1.9);
    CHECK(events[5].strainer->drop < 0.001 * bar);
    CHECK(events[5].strainer->behind == relative(7 * bar, 1e-3));
    // What the higher stage holds, and a little that came while it shut.
    CHECK(events[5].flowing_pressure > 4.25 * bar);
    CHECK(events[5].flowing_pressure < 4.6 * bar);
}

TEST_CASE("a clogged strainer starves the outlets at full flow and at little flow nobody sees it"
          * doctest::test_suite("long")) {
    const auto clean = at_flows("1"), clogged = at_flows("0.03");
    REQUIRE(clean.size() == clogged.size());
    CHECK(std::abs(clogged[0].flowing_pressure - clean[0].flowing_pressure) < 0.02 * bar);
    CHECK(clogged[0].share_delivered() > 0.99 * clean[0].share_delivered());
    CHECK(clean[3].share_delivered() > 0.97);
    CHECK(clogged[3].share_delivered() < 0.9 * clean[3].share_delivered());
    CHECK(clogged[3].flowing_pressure < clean[3].flowing_pressure - 0.5 * bar);
    // No minimum inlet is left: less than half a bar stands over what the main valve would hold.
    CHECK(clogged[3].strainer->behind < 4 * bar + 0.5 * bar);
    CHECK(clean[3].strainer->behind > 6 * bar);
}

TEST_CASE("check valves keep what is in a building when its supply fails and without them it drains back") {
    const auto kept = burst(true), drained = burst(false);
    const auto fall = [](const Outcome& outcome) {
        const auto& outlet = outcome.record.recording["outlet.pressure"];
        return outlet.front() - outlet.back();
    };
    const auto back = [](const Outcome& outcome) { // m3 that has run back into the source
        const auto& taken = outcome.record.recording["supply_meter.volume"];
        return -taken.back();
    };
    CHECK(fall(kept) < 0.05 * bar);
    CHECK(fall(drained) > 3 * bar);
    // 10 L of vessel precharged to 3 bar hold, at 4.3 bar, 1 - (4.01 / 5.31)^(1 / 1.2) = 21 % of it as water: 2.1 L, by hand.
    CHECK(back(drained) > 1.9 * litre);
    CHECK(back(drained) < 2.5 * litre);
    // The cover of the main valve empties into the body, and 150 L of supply pipe give 7 bar / 2 GPa of their water.
    const double cover = elmhurst().stages[0].pilot_operated()->cover.volume;
    CHECK(back(kept) < cover + 0.1 * litre);
}

TEST_CASE(
    "a stage behind its check valve passes nothing back while the stage beside it holds the outlet up") {
    const auto outcome = simulate(elmhurst({{"supply.steps=[]"},
                                            {"supply.strainer.steps=[]"},
                                            {"demand.start=3 L/s"},
                                            {"demand.steps=[{ at = '5 s', to = '0.05 L/s', over = '2 s' }]"},
                                            {"run.duration=40 s"}}));
    const auto& outlet = outcome.record.recording["outlet.pressure"];
    const auto& own = outcome.record.recording["main.valve_outlet_pressure"];
    const auto& flow = outcome.record.recording["main.flow"];
    // The bypass, set 0.3 bar higher, carries the trickle; the main valve has shut and holds what it sensed.
    CHECK(outlet.back() > 4.1 * bar);
    CHECK(own.back() < outlet.back());
    CHECK(flow.front() > 1 * litre);
    CHECK(*std::ranges::min_element(flow) > -1e-6);
}
