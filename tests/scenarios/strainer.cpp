// Strainers and check valves as scenarios have them: defaults, where they stand, and what is wrong with them in one line.
#include "models/station.h"
#include "scenarios/build.h"
#include "scenarios/controls.h"
#include "scenarios/settings.h"
#include "scenarios/written.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

using namespace needleturn;
using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

constexpr double kv = 1 / 3600.0 / 316.22776601683796; // m3 s-1 Pa-1/2

std::string error_of_set(const std::string& change) {
    return error_of([&] { nursery({change.c_str()}); });
}

Scenario larkfell(const std::vector<Override>& changes) {
    return read_scenario(source / "scenarios/larkfell-two-steps.toml", changes, hardware_folders);
}

const models::PipeRun& pipe_called(const models::StationParts& parts, const std::string& name) {
    return *std::ranges::find(parts.pipes, name, &models::PipeRun::name);
}

} // namespace

TEST_CASE("a strainer stands where the supply pipe ends and all that is at the inlet stands behind it") {
    const auto parts = build(nursery()).parts;
    REQUIRE(parts.strainer);
    const auto& between = parts.strainer->between;
    CHECK(parts.points[between.from].name == "strainer_inlet");
    CHECK(parts.points[between.to].name == "inlet");
    CHECK(pipe_called(parts, "supply_pipe").to == between.from);
    const auto boiler = std::ranges::find(parts.demands, "boiler", &models::DemandPoint::name);
    CHECK(boiler->at == parts.inlet);
    CHECK(parts.strainer->mesh_open == 0.5);
    // Clean, it passes what is stated; in this water, at 12 degC and 999.5 kg/m3, 2.5e-4 more.
    CHECK(parts.strainer->capacity(1.0) == relative(120 * kv, 5e-4));
}

TEST_CASE("a strainer of two steps stands ahead of the first") {
    const auto parts =
        build(larkfell({{"supply.strainer={ capacity = '90 Kv', screen_area = '120 cm2' }"}})).parts;
    REQUIRE(parts.strainer);
    CHECK(parts.points[parts.strainer->between.to].name == "first_step_inlet");
    CHECK(pipe_called(parts, "supply_pipe_1").to == parts.strainer->between.from);
    CHECK(pipe_called(parts, "supply_pipe").to == parts.inlet);
    CHECK(parts.strainer->mesh_open == 0.4);
    const auto installation =
        build(larkfell({{"supply.strainer={ capacity = '90 Kv', screen_area = '120 cm2', open = 0.3 }"}}));
    CHECK(
        std::ranges::any_of(installation.drives, [](const Schedule& drive) { return drive.start() == 0.3; }));
}

TEST_CASE("the open share of a strainer is a control with its start and its changes") {
    const auto scenario = nursery({"supply.strainer.open=0.6"});
    const auto all = controls_of(scenario);
    const auto found = std::ranges::find(all, Control::strainer, &PlacedControl::control);
    REQUIRE(found != all.end());
    CHECK(start_of(scenario, *found) == 0.6);
    CHECK(start_key(scenario, *found) == "supply.strainer.open");
    REQUIRE(changes_of(scenario, *found).size() == 1);
    CHECK(changes_of(scenario, *found)[0].to == 0.4);
}

TEST_CASE("strainer and check valve are written as they were read") {
    const auto scenario = nursery();
    const auto again = parse_scenario(written(scenario, hardware_folders), "written", {}, hardware_folders);
    CHECK(again.supply.strainer == scenario.supply.strainer);
    CHECK(again.stages[0].check_valve == scenario.stages[0].check_valve);
    CHECK(again.stages[0].check_valve.value() == relative(200 * kv, 1e-12));
}

TEST_CASE("a station of which neither is said has none") {
    const auto parts = build(larkfell({})).parts;
    CHECK_FALSE(parts.strainer);
    CHECK_FALSE(parts.stages[0].cocks.check);
    CHECK(build(nursery()).parts.stages[0].cocks.check);
}

TEST_CASE("what is wrong with a strainer or a check valve is told in one line") {
    const auto says = [](const std::string& change, const std::string& what) {
        const auto error = error_of_set(change);
        CAPTURE(error);
        CHECK(error.find(what) != std::string::npos);
        CHECK(error.find('\n') == std::string::npos);
    };
    says("supply.strainer.open=0", "out of range; must be from 0.001 to 1");
    says("supply.strainer.open=1.1", "out of range; must be from 0.001 to 1");
    says("supply.strainer.mesh_open=1", "out of range; must be from 0.1 to 0.9");
    says("supply.strainer.screen_area=0 cm2", "out of range; must be greater than 0");
    says("supply.strainer.opne=1", "unknown key; nearest is open");
    says("supply.strainer.steps=[{ at = '1 s', to = 2 }]", "out of range; must be from 0.001 to 1");
    // 250 cm2, half of it open: K = 1.65, and 0.025 m2 x sqrt(2 / 1650) x 3600 x 316.2 = 990.87, by hand
    says("supply.strainer.capacity=1000 Kv",
         "must be less than its clean screen alone passes, 990.9 Kv by screen_area and mesh_open");
    says("supply.strainer={ capacity = '90 Kv' }", "screen_area");
    says("main.check_valve=0 Kv", "out of range; must be greater than 0");
    says("boiler.name=strainer", "is taken: it is that of a strainer ahead of the station");
    says("guard.name=strainer_b", "is taken: it is that of a strainer ahead of the station");
}
