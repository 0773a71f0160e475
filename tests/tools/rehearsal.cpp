// The usual order of commissioning keeps every limit; each way to go wrong breaks the one that the trade expects (common
// practice, no source).
#include "tools/studies/rehearsal.h"

#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/outlets_text.h"
#include "tools/commands/rehearse.h"
#include "tools/commands/sheet_content.h"
#include "tools/commands/step_text.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/procedure.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <string>
#include <vector>

namespace {

using namespace needleturn;

scenarios::Scenario scenario(const std::string& name) {
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/" + name);
}

/// A single valve with limits on everything: the demo station.
scenarios::Scenario demo() { return scenario("nursery-day.toml"); }

Rehearsal gone_wrong(const scenarios::Scenario& station, Slip slip) {
    const auto wrong = rehearse(station, slip, rehearse(station).pace);
    CHECK(wrong.failure.empty());
    CHECK(wrong.has_findings());
    return wrong;
}

/// The first step of a rehearsal that does `task`.
const RehearsalStep& step_of(const Rehearsal& rehearsal, Task task) {
    const auto found =
        std::ranges::find(rehearsal.steps, task, [](const RehearsalStep& step) { return step.id.task; });
    REQUIRE(found != rehearsal.steps.end());
    return *found;
}

bool breaks(const RehearsalStep& step, scenarios::Limit limit) {
    return std::ranges::any_of(
        step.findings, [&](const Finding& finding) { return finding.limit == limit && !finding.undecided; });
}

void check_usual_order(const scenarios::Scenario& station) {
    const auto usual = rehearse(station);
    INFO(station.title << usual.failure);
    CHECK(usual.failure.empty());
    for (const auto& step : usual.steps)
        for (const auto& text : finding_texts(step.findings, station.units))
            FAIL_CHECK(step_title(step.id, station) << ": " << text);
    CHECK(usual.accepted());
    // It arrives where the scenario wants the station: the highest setting at rest, within a division of a gauge. A lock-up
    // lies a little above the setting that closes the last drop.
    double highest = 0;
    for (const auto& stage : as_adjusted(station).stages)
        highest = std::max(highest, stage.set_pressure);
    CHECK(std::abs(usual.steps.back().after.outlet - highest) < 0.05e5);
}

} // namespace

TEST_CASE("what the scenario's own stop breaks in a run it breaks in the rehearsal and no higher"
          * doctest::test_suite("long")) {
    auto station = scenario("nursery-stop.toml");
    station.stages.front().closing_control = 0.5;
    const auto run = simulate(station);
    const auto& stop = run.verdict.at(1);
    REQUIRE(stop.findings.size() == 1);
    const auto usual = rehearse(station);
    const auto& stated = step_of(usual, Task::prove_stated);
    CHECK(breaks(stated, scenarios::Limit::highest_outlet_pressure));
    CHECK_FALSE(
        breaks(step_of(usual, Task::stop), scenarios::Limit::highest_outlet_pressure)); // a slower hand
    CHECK_FALSE(usual.accepted());
    // The same stop from the same flow; what is left of the steps before, a needle shows.
    CHECK(std::abs(stated.highest - stop.highest) < 0.05e5);
    REQUIRE(stated.hands.size() == 3);
    CHECK(hand_text(stated.hands[1], station) == "demand to 0.00 L/s in 4 s");
}

TEST_CASE("the usual order keeps every limit of the demo station" * doctest::test_suite("long")) {
    check_usual_order(demo());
}

TEST_CASE("the usual order keeps every limit of a station of three stages" * doctest::test_suite("long")) {
    check_usual_order(scenario("school-staged.toml"));
}

TEST_CASE("the usual order arrives at what the scenario's own adjustments leave") {
    check_usual_order(scenario("laundry-commissioning.toml"));
}

TEST_CASE("a rehearsal begins with screws and needles as the last record says and arrives where the scenario "
          "wants"
          * doctest::test_suite("long")) {
    auto station = scenario("dairy-visit.toml");
    station.as_left = {};
    check_usual_order(station);
    const auto usual = rehearse(station);
    const auto& start = usual.scenario.stages[0];
    CHECK(start.set_pressure == station.as_found.setting("main.set_pressure"));
    CHECK(start.opening_control == station.as_found.setting("main.opening_control"));
    CHECK(start.closing_control == station.stages[0].closing_control); // not recorded
    // It is the needle's turn in the step that looks at the needles, and nowhere else.
    const auto& needles = step_of(usual, Task::check_needles);
    std::size_t turned = 0;
    for (const auto& adjustment : usual.scenario.adjustments)
        if (adjustment.what == scenarios::Control::opening_control) {
            ++turned;
            CHECK(adjustment.to == station.stages[0].opening_control);
            CHECK(adjustment.at >= needles.begin);
            CHECK(adjustment.at + adjustment.over <= needles.hands_off);
        }
    CHECK(turned == 1);
    // Pressure let in first leaves everything as it is wanted: that slip is about the order alone.
    const auto wrong = procedure(station, Slip::wrong_order, usual.pace, 0);
    CHECK(wrong.scenario.stages[0].opening_control == station.stages[0].opening_control);
}

TEST_CASE("a screw turned until the gauge reads right leaves too high a pressure at rest"
          * doctest::test_suite("long")) {
    const auto wrong = gone_wrong(demo(), Slip::screw_spun);
    CHECK(breaks(step_of(wrong, Task::check_lock_up), scenarios::Limit::highest_outlet_pressure));
}

TEST_CASE("a main valve set without flow falls too low once water runs" * doctest::test_suite("long")) {
    const auto wrong = gone_wrong(demo(), Slip::set_without_flow);
    CHECK(breaks(step_of(wrong, Task::prove_low), scenarios::Limit::lowest_outlet_pressure));
    CHECK(step_of(wrong, Task::prove_full).after.outlet
          < step_of(rehearse(demo()), Task::prove_full).after.outlet - 0.3e5);
}

TEST_CASE("with air left in its cover the valve hunts at every flow of the demo station"
          * doctest::test_suite("long")) {
    const auto wrong = gone_wrong(demo(), Slip::air_left);
    for (const auto at : {Task::prove_low, Task::prove_middle, Task::prove_full})
        CHECK(breaks(step_of(wrong, at), scenarios::Limit::hunting));
}

TEST_CASE("pressure let in first on a dry cover goes through to the outlet" * doctest::test_suite("long")) {
    const auto wrong = gone_wrong(demo(), Slip::wrong_order);
    const auto& thrown = step_of(wrong, Task::throw_cock_open);
    CHECK(breaks(thrown, scenarios::Limit::highest_outlet_pressure));
    CHECK(thrown.highest > demo().supply.pressure);
    // Bled and proved afterwards the station is sound: what was wrong was the order.
    CHECK(step_of(wrong, Task::stop).findings.empty());
}

TEST_CASE("a bypass and an intermediate stage that stand below the first are set by themselves"
          * doctest::test_suite("long")) {
    const auto usual = rehearse(scenario("school-staged.toml"));
    step_of(usual, Task::make_room);
    // The last turn of each screw puts its setting on the gauge, within a division.
    const auto stages = as_adjusted(scenario("school-staged.toml")).stages;
    for (const auto* name : {"bypass", "intermediate"}) {
        const auto stage = std::ranges::find(stages, name, &scenarios::Stage::name);
        double reads = 0;
        for (const auto& step : usual.steps)
            if (step.id.task == Task::turn_screw && &stages[step.id.stage] == &*stage)
                reads = step.after.outlet;
        CHECK(std::abs(reads - stage->set_pressure) < 0.05e5);
    }
}

TEST_CASE("the orders of a rehearsal are scenarios that can be read again") {
    for (const auto slip : {Slip::none, Slip::screw_spun, Slip::wrong_order}) {
        const auto order = procedure(demo(), slip, {60, 1}, 5e5).scenario;
        CHECK(scenarios::parse_scenario(scenarios::resolved(order), "order.toml") == order);
    }
}

TEST_CASE("a station without a pilot cannot be rehearsed") {
    auto station = scenario("school-staged.toml");
    std::erase_if(station.stages, [](const auto& stage) { return stage.pilot_operated(); });
    CHECK_THROWS_WITH_AS(rehearse(station), doctest::Contains("pilot"), std::invalid_argument);
}

// ---- Two orders are compared by what a step is, not by what it is called or where it stands. Made by hand: no run.

namespace {

RehearsalStep step(StepId id, std::vector<Finding> findings = {}) {
    RehearsalStep step;
    step.id = id;
    step.judged = true;
    step.end = 1;
    step.findings = std::move(findings);
    return step;
}

Lesson lesson(std::vector<RehearsalStep> usual, std::vector<RehearsalStep> wrong) {
    Lesson lesson;
    lesson.usual.scenario = demo();
    lesson.usual.steps = std::move(usual);
    lesson.slips.emplace_back();
    lesson.slips.front().slip = Slip::air_left;
    lesson.slips.front().scenario = demo();
    lesson.slips.front().steps = std::move(wrong);
    return lesson;
}

/// Spaces as one.
std::string told(const Lesson& lesson) {
    std::string text = rehearsal_text(lesson), squeezed;
    for (const char c : text)
        if (const char space = c == '\n' ? ' ' : c;
            space != ' ' || (!squeezed.empty() && squeezed.back() != ' '))
            squeezed += space;
    return squeezed;
}

/// Pa
Finding too_high(double highest) {
    return {.limit = scenarios::Limit::highest_outlet_pressure, .value = highest, .bound = 5e5};
}
Finding hunting(double swing) {
    return {
        .limit = scenarios::Limit::hunting, .reason = Finding::Reason::hunts, .value = swing, .bound = 0.2e5};
}
const Finding hunts = hunting(0.5e5), high = too_high(5.5e5);
const std::string says_hunts = "hunts 0.50 bar, limit 0.20 bar",
                  says_high = "highest outlet pressure 5.50 bar, limit 5.00 bar";

} // namespace

TEST_CASE("a wrong way is not blamed for what the right way does, whichever time it comes to the step") {
    const StepId bleed{Task::bleed}, first{Task::prove_low}, second{.task = Task::prove_low, .time = 2};
    // Coming down the right way hunts, too; only the first is the wrong way's doing.
    const auto both = told(lesson({step(bleed), step(first), step(second, {hunts})},
                                  {step(first, {hunts}), step(second, {hunts})}));
    CHECK(both.find("! Prove at low flow: outlet 0.00 to 0.00 bar (else 0.00 to 0.00 bar); BREAKS "
                    + says_hunts)
          != std::string::npos);
    CHECK(both.find("! Prove at low flow, again") == std::string::npos);
    // The other way about.
    const auto again = told(lesson({step(bleed), step(first, {hunts}), step(second)},
                                   {step(first, {hunts}), step(second, {hunts})}));
    CHECK(again.find("! Prove at low flow, again: outlet") != std::string::npos);
    CHECK(again.find("! Prove at low flow: outlet") == std::string::npos);
}

TEST_CASE("of one step a wrong way is blamed for the limits that it alone breaks, by which they are and not "
          "by their number") {
    const StepId bleed{Task::bleed}, prove{Task::prove_full};
    const auto other = told(lesson({step(bleed), step(prove, {hunts})}, {step(prove, {high})}));
    CHECK(other.find("BREAKS " + says_high) != std::string::npos);
    const auto same = told(lesson({step(bleed), step(prove, {hunting(0.45e5)})}, {step(prove, {hunts})}));
    CHECK(same.find("Breaks no limit that the usual order keeps") != std::string::npos);
    // Unless it is another reading altogether.
    auto far = step(prove, {too_high(9e5)});
    far.highest = 9e5;
    auto near = step(prove, {too_high(5.01e5)});
    near.highest = 5.01e5;
    const auto worse = told(lesson({step(bleed), near}, {far}));
    CHECK(
        worse.find("outlet 0.00 to 9.00 bar (else 0.00 to 5.01 bar); BREAKS highest outlet pressure 9.00 bar")
        != std::string::npos);
}

TEST_CASE("a step whose right way breaks a limit says so before its hands and before any wrong way") {
    const auto text = told(
        lesson({step({Task::bleed}, {high}), step({Task::prove_full})}, {step({Task::prove_full}, {hunts})}));
    const auto right =
        text.find("1. Bleed at the highest point Even done the right way this BREAKS " + says_high);
    REQUIRE(right != std::string::npos);
    CHECK(right < text.find("IF air is left"));
}

TEST_CASE("a step that ends with a stem that sticks says so in rehearsal and sheet, and no other does") {
    auto stuck = step({Task::prove_low});
    stuck.stability.kind = Stability::Kind::holds;
    stuck.stability.stuck = {"main", "bypass"};
    const std::string says =
                          "The knock did not break loose the stem of main, nor that of bypass: what a harder "
                          "one does is not known.",
                      sums_up = "Some steps end with a stem with friction that the knock did not break loose";
    const auto with = lesson({step({Task::bleed}), stuck}, {}), without = lesson({step({Task::bleed})}, {});
    CHECK(told(with).find(says) > told(with).find("Prove at low flow"));
    CHECK(told(with).find(says) != std::string::npos);
    CHECK(told(without).find("did not break loose") == std::string::npos);
    const auto sheet = sheet_content(demo(), with);
    CHECK(sheet.outcome.find(sums_up) != std::string::npos);
    CHECK(sheet.steps.at(1).wait.find(says) != std::string::npos);
    CHECK(sheet_content(demo(), without).outcome.find("did not break loose") == std::string::npos);
}

TEST_CASE("every step of an order is one of its kind, and the screw's last turn is the same in however many "
          "turns") {
    for (const auto slip : {Slip::none, Slip::set_without_flow, Slip::wrong_order}) {
        const auto steps = procedure(scenario("school-staged.toml"), slip, {10, 1}, 5e5).steps;
        for (std::size_t i = 0; i < steps.size(); ++i)
            CHECK(std::ranges::count(steps, steps[i].id, &ProcedureStep::id) == 1);
    }
    Rehearsal usual;
    usual.steps = {step({Task::turn_screw, 0, 1, 2}), step({Task::turn_screw, 0, 2, 2})};
    CHECK(usual.same_step({Task::turn_screw, 0, 3, 3}) == &usual.steps[1]);
    CHECK(usual.same_step({Task::turn_screw, 0, 1, 3}) == nullptr);
    CHECK(usual.same_step({Task::turn_screw, 0, 1, 2}) == &usual.steps[0]);
    CHECK(usual.same_step({Task::turn_screw, 1, 2, 2}) == nullptr);
}

TEST_CASE("hands are told what the gauges of the run read where water stands above the valve"
          * doctest::test_suite("long")) {
    auto station = demo();
    station.downstream.pipe.rise = 25; // m: 2.45 bar at 1000 kg/m3 x 9.80665 m/s2
    const auto usual = rehearse(station);
    const auto& isolate = step_of(usual, Task::isolate);
    CHECK(isolate.after.outlet == doctest::Approx(2.45e5).epsilon(0.02)); // a trickle passes the cock besides
    const auto watch = hand_text(isolate.hands.back(), station);
    CHECK(watch.starts_with("the outlet gauge stays at 2.4"));
    CHECK(watch.ends_with("touch no fitting before both read zero"));
    const auto& pressurise = step_of(usual, Task::pressurise);
    CHECK(pressurise.after.outlet > pressurise.before.outlet + 0.5e5);
    // 25 m of steel/DN80 and what lies level behind it, drained for work below, must be filled first.
    CHECK(pressurise.hands.front().deed == Deed::fill_drained_riser);
    const auto cracked = std::ranges::find(pressurise.hands, Deed::crack_cock_of_dry_valve, &Hand::deed);
    REQUIRE(cracked != pressurise.hands.end());
    CHECK(hand_text(*cracked, station)
              .find(fmt::format("reads about {:.2f} bar", pressurise.after.outlet / 1e5))
          != std::string::npos);
    // With everything at one height the gauges do fall to zero.
    CHECK(hand_text(step_of(rehearse(demo()), Task::isolate).hands.back(), station)
              .starts_with("watch outlet and cover gauges fall to zero"));
}

TEST_CASE("a station set above its supply cannot be rehearsed") {
    auto station = demo();
    station.supply.pressure = 4e5;
    CHECK_THROWS_WITH_AS(rehearse(station), doctest::Contains("needs a supply above the setting"),
                         std::invalid_argument);
}
