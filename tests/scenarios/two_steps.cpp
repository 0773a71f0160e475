// Stages in two steps: [[supply.stage]], their names in --set and [adjust], the limits between the steps, and what is told of
// nonsense.
#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/connected.h"
#include "scenarios/controls.h"
#include "scenarios/limits.h"
#include "scenarios/plausibility.h"
#include "scenarios/settings.h"
#include "scenarios/static_setting.h"
#include "scenarios/written.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

const std::filesystem::path larkfell_file = source / "scenarios/larkfell-two-steps.toml";

/// With a pilot-operated valve in the first step, which has all controls.
Scenario larkfell(std::initializer_list<const char*> changes = {}) {
    std::vector<Override> overrides{{"first.hardware=pilot-operated/DN65"},
                                    {"first.opening_control=1 turn"},
                                    {"first.closing_control=6 turns"}};
    for (const auto* change : changes)
        overrides.push_back({change});
    return read_scenario(larkfell_file, overrides, hardware_folders);
}

std::string error_of_set(const char* change) {
    return error_of([&] { larkfell({change}); });
}

/// The error when in the written scenario `before` is replaced by `after`.
std::string error_with(const std::string& before, const std::string& after) {
    auto text = written(larkfell(), hardware_folders);
    const auto at = text.find(before);
    REQUIRE_MESSAGE(at != std::string::npos, before);
    return error_of_text(text.replace(at, before.size(), after));
}

} // namespace

TEST_CASE("the stages of a station stand before those of its first step, each known by its name") {
    const auto scenario = larkfell({"first.opening_control=2 turns", "second.closing_control=3 turns"});
    REQUIRE(scenario.stages.size() == 2);
    CHECK(scenario.stages[0].name == "second");
    CHECK_FALSE(scenario.stages[0].first_step);
    CHECK(scenario.stages[0].closing_control == 3);
    CHECK(scenario.stages[1].name == "first");
    CHECK(scenario.stages[1].first_step);
    CHECK(scenario.stages[1].opening_control == 2);
    CHECK(static_pressure(scenario.stages) == 3.8e5);
    CHECK(static_pressure(scenario.stages, true) == 8e5);
    CHECK(in_two_steps(scenario.stages));
    CHECK_FALSE(in_two_steps(nursery().stages));
}

TEST_CASE("what comes to a station behind a first step is what that holds, where the supply brings it") {
    const auto scenario = larkfell();
    CHECK(inlet_pressure(scenario, scenario.stages[0]) == 8e5);
    CHECK(inlet_pressure(scenario, scenario.stages[1]) == 14e5);
    const auto low = larkfell({"supply.pressure=6 bar"});
    CHECK(inlet_pressure(low, low.stages[0]) == 6e5);
    // A disc that is not balanced, screwed to a force: the pressure that holds it shut besides is that between the steps.
    const auto screwed = parse_scenario(R"(
title = "screwed"
run.duration = "1 s"
supply.pressure = "14 bar"
supply.pipes_before = [{ length = "9 m", bore = "80 mm" }]
supply.pipe = { length = "9 m", bore = "80 mm" }
downstream.pipe = { length = "9 m", bore = "80 mm" }
demand.start = "1 L/s"
[[supply.stage]]
name = "first"
hardware = "direct-acting/DN50"
set_pressure = "8 bar"
[[stage]]
hardware = "direct-acting/DN50"
adjusting_screw = "20 turns"
override.seat_bore = "20 mm"
)",
                                        "screwed", {}, hardware_folders);
    const auto& stage = screwed.stages[0];
    const double spring = 20 * stage.direct_acting()->pressure_per_turn;
    CHECK(stage.set_pressure == relative(set_by_spring_at_start(stage, spring, 8e5), 1e-12));
    CHECK(stage.set_pressure > set_by_spring_at_start(stage, spring, 14e5));
    const auto parts = build(screwed).parts;
    REQUIRE(parts.direct_stages.size() == 2);
    CHECK(parts.direct_stages[0].valve.unbalanced_seat->set_at == 8e5);
}

TEST_CASE("the line runs from the source through the first step to the station") {
    const auto parts = build(larkfell()).parts;
    const auto point = [&](needleturn::models::PointId id) { return parts.points[id].name; };
    REQUIRE(parts.pipes.size() == 3);
    CHECK(parts.pipes[0].name == "supply_pipe_1");
    CHECK_FALSE(parts.pipes[0].from);
    CHECK(point(parts.pipes[0].to) == "first_step_inlet");
    CHECK(parts.pipes[1].name == "supply_pipe");
    CHECK(point(parts.pipes[1].from.value()) == "first_step_outlet");
    CHECK(point(parts.pipes[1].to) == "inlet");
    const auto step = needleturn::models::first_step(parts);
    REQUIRE(step);
    CHECK(point(step->from) == "first_step_inlet");
    CHECK(point(step->to) == "first_step_outlet");
    CHECK_FALSE(parts.stages[0].cocks.between);
    REQUIRE(parts.stages.size() == 2);
    CHECK(bool(parts.stages[1].cocks.between == step));
    CHECK_FALSE(needleturn::models::first_step(build(nursery()).parts));
}

TEST_CASE("hands, settings and limits reach a first step by its name and the line behind it as between") {
    const auto scenario =
        larkfell({R"(adjust.steps=[{ at = "5 s", stage = "first", set_pressure = "7 bar", over = "2 s" }])"});
    CHECK(scenario.adjustments.at(0).stage == 1);
    std::vector<std::string> names;
    for (const auto& control : controls_of(scenario))
        names.push_back(control.name);
    for (const auto* name : {"first.set_pressure", "first.opening_control", "first.cock", "second.cock"})
        CHECK(std::ranges::count(names, name) == 1);
    CHECK(std::ranges::count(settings_of(scenario), "first.opening_control", &Setting::key) == 1);
    std::string keys;
    for (const auto& stated : stated_limits(scenario.accept))
        if (!stated.what.outlet.empty())
            keys += stated.what.key() + " ";
    CHECK(keys == "between.highest_pressure between.lowest_pressure between.flicker ");
    const PlacedLimit limit{Limit::highest_there, "between"};
    CHECK(limit.name() == "highest pressure between the steps");
    CHECK(limit.condition() == "between the steps at most");
}

TEST_CASE("a scenario in two steps is the same when written and read again") {
    const auto scenario = larkfell();
    CHECK(parse_scenario(resolved(scenario), "again", {}, {}) == scenario);
    CHECK(parse_scenario(written(scenario, hardware_folders), "again", {}, hardware_folders) == scenario);
}

TEST_CASE("what is wrong with a first step is told in one line") {
    CHECK(error_of_set("supply.pipes_before=[]")
              .find("supply.stage = [...]: needs a pipe ahead of it: write one under pipes_before")
          != std::string::npos);
    CHECK(error_of_set("first.opening_control=9 turns")
          == "--set first.opening_control=9 turns: supply.stage.opening_control = \"9 turns\": out of range; "
             "must be from 0 "
             "to 6 turns");
    CHECK(error_of_set("first.opening_contrl=1 turn").find("unknown key; nearest is opening_control")
          != std::string::npos);
    CHECK(error_of_set("frist.cock=1").find("no such section, stage or outlet; nearest is first")
          != std::string::npos);
    CHECK(error_of_set("second.name=first").find("is taken: an earlier stage has it") != std::string::npos);
    CHECK(error_of_set("first.name=supply").find("is taken") != std::string::npos);
    CHECK(error_of_set("first.name=between").find("is taken") != std::string::npos);
    CHECK(error_of_set("accept.between.highest_pressure=3 L/s").find("a pressure is wanted")
          != std::string::npos);
    CHECK(error_of_set("accept.between.lowest_pressure=9.5 bar").find("must be below highest_pressure")
          != std::string::npos);
    CHECK(error_with("name = \"first\", ", "").find("supply.stage.name: missing") != std::string::npos);
    // Without a first step there is no line between two.
    CHECK(error_of([] { nursery({"accept.between={ highest_pressure = '8 bar' }"}); }).find("unknown key")
          != std::string::npos);
    CHECK(error_of([] { nursery({"supply.stage=3"}); }).find("a list of tables is wanted")
          != std::string::npos);
}

TEST_CASE("nonsense of two steps is told of the step that it is of") {
    CHECK(static_warnings(larkfell()).empty());
    CHECK(static_warnings(larkfell({"first.set_pressure=15 bar"}))
          == std::vector<std::string>{
              "first is set to 15.00 bar, but the supply never brings it more than 14.00 bar: it "
              "cannot reach its setting and regulates nothing"});
    CHECK(static_warnings(larkfell({"second.set_pressure=8.5 bar"}))
          == std::vector<std::string>{
              "second is set to 8.50 bar, but the first step never brings it more than 8.00 bar: it "
              "cannot reach its setting and regulates nothing"});
    CHECK(static_warnings(larkfell({"second.set_pressure=7.6 bar"}))
          == std::vector<std::string>{
              "second is set only 0.40 bar below its inlet pressure of 8.00 bar: a pilot-operated "
              "valve wants about 0.70 bar to move and to shut"});
    CHECK(static_warnings(larkfell({"supply.pressure=17 bar"}))
          == std::vector<std::string>{"the supply brings 17.00 bar to first, which is rated for 16.00 bar"});
    // 80 m of water at 15 degC are 7.84 bar (999.1 kg/m3, IAPWS).
    CHECK(error_of_set("supply.pipe.rise=90 m")
              .find("8.00 bar, the highest setting of the first step, does not lift water "
                    "90.0 m to the station, only 81.")
          != std::string::npos);
}
