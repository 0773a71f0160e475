// What hands do to commission a station, as it is written into the schedule and told: no run is asked.
#include "tools/studies/procedure.h"

#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tools/commands/outlets_text.h"
#include "tools/commands/step_text.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

using namespace needleturn;

namespace {

scenarios::Scenario station_of(const std::string& name) {
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/" + name);
}

} // namespace

TEST_CASE("changes ahead of the valve are made and taken back and a day's log is left to the run"
          * doctest::test_suite("long")) {
    auto station = station_of("nursery-branches.toml");
    station.supply.steps = {{30, 6.5e5, 2}};
    const auto script = procedure(station, Slip::none, {10, 1}, 0);
    const auto stated = std::ranges::find(script.steps, Task::prove_stated,
                                          [](const ProcedureStep& step) { return step.id.task; });
    REQUIRE(stated != script.steps.end());
    // Zone 1 at 4 s is the first.
    const auto& supply = script.scenario.supply.steps;
    REQUIRE(supply.size() == 2);
    CHECK(supply[1].to == station.supply.pressure);
    CHECK(supply[1].at + supply[1].over < stated->end);
    const auto& boiler = script.scenario.supply.consumers.at(0).demand;
    REQUIRE(boiler.steps.size() == 2);
    CHECK(boiler.steps[0].to == 0);
    CHECK(boiler.steps[1].to == boiler.start);
    const auto& zone = script.scenario.downstream.branches.at(0).demand.steps;
    const auto shut = std::ranges::find(zone, 0.2, &scenarios::Step::over);
    REQUIRE(shut != zone.end());
    CHECK(supply[0].at - shut->at == doctest::Approx(26)); // as in the scenario
    CHECK(boiler.steps[0].at - shut->at == doctest::Approx(20));
    CHECK(stated->judged);
    CHECK(not_rehearsed_text(station).empty());

    station.supply.steps[0].at = 605;
    const auto without = procedure(station, Slip::none, {10, 1}, 0);
    CHECK(std::ranges::count(without.steps, Task::prove_stated,
                             [](const ProcedureStep& step) { return step.id.task; })
          == 0);
    CHECK(without.scenario.supply.steps.empty());
    CHECK(not_rehearsed_text(station)
          == "The changes that the scenario itself states take 603.00 s, longer than the 600.00 s that a "
             "rehearsal "
             "waits, and are not in it. What they do, the command run tells.");
}

TEST_CASE("a strainer clogs in the rehearsal as the scenario states it and is cleaned after it") {
    const auto station = station_of("elmhurst-strainer.toml");
    const auto script = procedure(station, Slip::none, {10, 1}, 0);
    const auto& steps = script.scenario.supply.strainer->steps;
    REQUIRE(steps.size() == 3);
    CHECK(steps[0].to == 0.04);
    CHECK(steps[1].at - steps[0].at == doctest::Approx(40)); // at 20 s and at 60 s
    CHECK(steps[2].to == station.supply.strainer->open);
    const auto stated = std::ranges::find(script.steps, Task::prove_stated,
                                          [](const ProcedureStep& step) { return step.id.task; });
    REQUIRE(stated != script.steps.end());
    std::string text;
    for (const auto& hand : stated->hands)
        text += hand_text(hand, station) + "\n";
    CHECK_MESSAGE(text.find("the strainer to 4 % of its meshes open in 10 s\n") != std::string::npos, text);
    CHECK_MESSAGE(text.find("40 s after the first: the strainer to 100 % of its meshes open in 1 s\n")
                      != std::string::npos,
                  text);
}

TEST_CASE("a sustaining screw is slack until the adjusting screw is set and then turned in at full flow") {
    const auto station = station_of("wrenfield-sustaining.toml");
    const auto script = procedure(station, Slip::none, {10, 1}, 0);
    CHECK(script.scenario.stages[0].sustaining_pressure == 0);
    std::vector<const scenarios::Adjustment*> turned;
    double set_at = 0;
    for (const auto& adjustment : script.scenario.adjustments) {
        if (adjustment.what == scenarios::Control::sustaining_pressure)
            turned.push_back(&adjustment);
        if (adjustment.what == scenarios::Control::set_pressure)
            set_at = adjustment.at;
    }
    REQUIRE(turned.size() > 3);
    CHECK(turned.front()->to == doctest::Approx(0.75 * 4.2e5)); // counted in, where it does not act yet
    CHECK(turned.front()->at > set_at);
    CHECK(turned.back()->to == doctest::Approx(4.2e5));
    const auto first = std::ranges::find(script.steps, Task::turn_sustaining_screw,
                                         [](const ProcedureStep& step) { return step.id.task; });
    REQUIRE(first != script.steps.end());
    REQUIRE(first->hands.size() == 2);
    // 3.15 bar and 0.85 bar a turn; then by quarter turns or a quarter of a bar, 5 of 0.21 bar.
    CHECK(hand_text(first->hands[0], station)
              .find("the sustaining screw of main from 0.00 to 3.71 turns from slack")
          != std::string::npos);
    CHECK(hand_text(first->hands[1], station)
          == "turn the sustaining screw of main in by 0.25 turns and wait");
    const auto lock = std::ranges::find(script.steps, Task::lock_screw,
                                        [](const ProcedureStep& step) { return step.id.task; });
    REQUIRE(lock->hands.size() == 2);
    CHECK(hand_text(lock->hands[1], station).starts_with("hold the sustaining screw of main"));
    // Pressure let in before anything else finds all screws as they are to be left.
    const auto thrown = procedure(station, Slip::wrong_order, {10, 1}, 0);
    CHECK(thrown.scenario.stages[0].sustaining_pressure == 4.2e5);
    CHECK(std::ranges::none_of(thrown.scenario.adjustments, [](const scenarios::Adjustment& adjustment) {
        return adjustment.what == scenarios::Control::sustaining_pressure;
    }));
}
