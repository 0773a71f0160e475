// The usual order of commissioning keeps every limit; each way to go wrong breaks the one that the trade expects (common
// practice, no source).
#include "tools/studies/rehearsal.h"

#include "scenarios/read_scenario.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <string_view>

namespace {

using namespace needleturn;

scenarios::Scenario scenario(const std::string& name) {
    return scenarios::read_scenario(NEEDLETURN_SOURCE_DIR "/scenarios/" + name);
}

/// A single valve with limits on everything: the demo station.
scenarios::Scenario demo() { return scenario("nursery-day.toml"); }

Rehearsal gone_wrong(const scenarios::Scenario& station, Slip slip) {
    const auto wrong = rehearse(station, slip, rehearse(station).pace);
    CHECK(wrong.failure.empty());
    CHECK(wrong.breaks_a_limit());
    return wrong;
}

const RehearsalStep& step_of(const Rehearsal& rehearsal, std::string_view title) {
    const auto found = std::ranges::find(rehearsal.steps, title, &RehearsalStep::title);
    REQUIRE(found != rehearsal.steps.end());
    return *found;
}

bool breaks(const RehearsalStep& step, std::string_view limit) {
    return std::ranges::any_of(step.broken, [&](const std::string& text) { return text.starts_with(limit); });
}

void check_usual_order(const scenarios::Scenario& station) {
    const auto usual = rehearse(station);
    INFO(station.title << usual.failure);
    CHECK(usual.failure.empty());
    for (const auto& step : usual.steps)
        for (const auto& limit : step.broken)
            FAIL_CHECK(step.title << ": " << limit);
    CHECK(usual.accepted());
    // It arrives where the scenario wants the station: the highest setting at rest, within a division of a gauge. A lock-up
    // lies a little above the setting that closes the last drop.
    double highest = 0;
    for (const auto& stage : as_left(station).stages)
        highest = std::max(highest, stage.set_pressure);
    CHECK(std::abs(usual.steps.back().after.outlet - highest) < 0.05e5);
}

} // namespace

TEST_CASE("the usual order keeps every limit of the demo station") { check_usual_order(demo()); }

TEST_CASE("the usual order keeps every limit of a station of three stages") {
    check_usual_order(scenario("school-staged.toml"));
}

TEST_CASE("the usual order arrives at what the scenario's own adjustments leave") {
    check_usual_order(scenario("laundry-commissioning.toml"));
}

TEST_CASE("with a screw turned until the gauge reads right, rest reads too high") {
    const auto wrong = gone_wrong(demo(), Slip::screw_spun);
    CHECK(breaks(step_of(wrong, "Stop the flow, check lock-up"), "highest outlet pressure"));
}

TEST_CASE("a main valve set without flow falls too low once water runs") {
    const auto wrong = gone_wrong(demo(), Slip::set_without_flow);
    CHECK(breaks(step_of(wrong, "Prove at low flow"), "lowest outlet pressure"));
    CHECK(step_of(wrong, "Prove at full flow").after.outlet
          < step_of(rehearse(demo()), "Prove at full flow").after.outlet - 0.3e5);
}

TEST_CASE("with air left in its cover the valve hunts at every flow of the demo station") {
    const auto wrong = gone_wrong(demo(), Slip::air_left);
    for (const auto* at : {"Prove at low flow", "Prove at middle flow", "Prove at full flow"})
        CHECK(breaks(step_of(wrong, at), "hunts"));
}

TEST_CASE("pressure let in first, on a dry cover, goes through to the outlet") {
    const auto wrong = gone_wrong(demo(), Slip::wrong_order);
    const auto& thrown = step_of(wrong, "Cock thrown open");
    CHECK(breaks(thrown, "highest outlet pressure"));
    CHECK(thrown.highest > demo().supply.pressure);
    // Bled and proved afterwards the station is sound: what was wrong was the order.
    CHECK(step_of(wrong, "Stop, record, tag").broken.empty());
}

TEST_CASE("a bypass and an intermediate stage that stand below the first are set by themselves") {
    const auto usual = rehearse(scenario("school-staged.toml"));
    step_of(usual, "Make room for intermediate");
    // The last turn of each screw puts its setting on the gauge, within a division.
    for (const auto& [title, setting] : {std::pair{"Turn the screw of bypass", 4.8e5},
                                         std::pair{"Turn the screw of intermediate", 4.46e5}}) {
        double reads = 0;
        for (const auto& step : usual.steps)
            if (step.title == title)
                reads = step.after.outlet;
        CHECK(std::abs(reads - setting) < 0.05e5);
    }
}

TEST_CASE("the orders of a rehearsal are scenarios that can be read again") {
    const auto usual = rehearse(demo());
    CHECK(scenarios::parse_scenario(scenarios::resolved(usual.scenario), "usual-order.toml")
          == usual.scenario);
}

TEST_CASE("a station without a pilot cannot be rehearsed") {
    auto station = scenario("school-staged.toml");
    std::erase_if(station.stages, [](const auto& stage) { return stage.pilot_operated(); });
    CHECK_THROWS_WITH_AS(rehearse(station), doctest::Contains("pilot"), std::invalid_argument);
}
