// A stage that is shut off on both sides: its screw does not decide whether the others hunt.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/flow_map.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double bar = 1e5; // Pa

/// The school with its intermediate stage shut off and set to so many bar, in the dead zone of the other two.
EventVerdict with_intermediate_shut(double set, bool outlet_too) {
    std::vector<scenarios::Override> changes{{"intermediate.cock=0"},
                                             {fmt::format("intermediate.set_pressure={} bar", set)},
                                             {"demand.start=0.3 L/s"},
                                             {R"(demand.steps=[{ at = "1 s", to = "2 L/s", over = "1 s" }])"},
                                             {"run.duration=20 s"}};
    if (outlet_too)
        changes.push_back({"intermediate.outlet_cock=0"});
    const auto scenario =
        scenarios::read_scenario(tests::source_folder() + "/scenarios/school-staged.toml", changes);
    return simulate(scenario, {}, Signals::judged).verdict.back();
}

} // namespace

TEST_CASE("behind an inlet cock alone a shut stage still acts on the outlet through its diaphragm"
          * doctest::test_suite("long")) {
    CHECK(with_intermediate_shut(3.7, false).hunts());
    CHECK_FALSE(with_intermediate_shut(4.3, false).hunts());
}

TEST_CASE("shut off on both sides a stage does not decide by its screw whether the others hunt"
          * doctest::test_suite("long")) {
    const auto first = with_intermediate_shut(3.7, true);
    CHECK(first.hunts());
    CHECK(first.swing() > bar);
    for (const double set : {4.0, 4.3, 4.6}) {
        CAPTURE(set);
        const auto other = with_intermediate_shut(set, true);
        CHECK(other.hunts());
        // What weeps through shut cocks is nothing here: what is left is the tolerance of the run.
        CHECK(other.swing() == relative(first.swing(), 1e-3));
        CHECK(other.hunting.frequency == relative(first.hunting.frequency, 1e-3));
    }
}

namespace {

/// The school at 10 L/s with all but its main stage shut off, the bypass on both sides or at its inlet alone, and more.
scenarios::Scenario main_alone(std::vector<scenarios::Override> more = {}, int bypass_outlet = 0) {
    std::vector<scenarios::Override> changes{{"demand.start=10 L/s"},
                                             {"demand.steps=[]"},
                                             {"run.duration=5 s"},
                                             {"intermediate.cock=0"},
                                             {"intermediate.outlet_cock=0"},
                                             {"bypass.cock=0"},
                                             {fmt::format("bypass.outlet_cock={}", bypass_outlet)}};
    changes.insert(changes.end(), more.begin(), more.end());
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/school-staged.toml", changes);
}

double set_of(const scenarios::Scenario& scenario, const std::string& name) {
    return std::ranges::find(scenario.stages, name, &scenarios::Stage::name)->set_pressure;
}

} // namespace

TEST_CASE("a stage that is shut off decides neither static pressure nor fall-off, nor is its stem one that "
          "sticks") {
    const auto scenario = main_alone();
    REQUIRE(set_of(scenario, "bypass") > set_of(scenario, "main") + 0.2 * bar);
    const auto event = simulate(scenario, {}, Signals::judged).verdict.back();
    CHECK(event.fall_off == relative(set_of(scenario, "main") - event.flowing_pressure, 1e-9));
    for (const auto& stem : event.stability.stuck)
        CHECK(stem.starts_with("main"));
    const auto map = flow_map(scenario, {4e-3, 8e-3, 2});
    CHECK(map.static_pressure == set_of(scenario, "main"));
    REQUIRE_FALSE(map.sticking.empty());
    for (const auto& stem : map.sticking)
        CHECK(stem.name.starts_with("main"));
}

TEST_CASE(
    "behind an inlet cock alone a stage delivers nothing, so its setting counts no more, but its stem does") {
    const auto scenario = main_alone({}, 1);
    const auto map = flow_map(scenario, {4e-3, 8e-3, 2});
    CHECK(map.static_pressure == set_of(scenario, "main"));
    CHECK(std::ranges::count(map.sticking, "bypass", &StickingStem::name) == 1);
}

TEST_CASE("what counts is how the cocks stand at the end of an event") {
    const auto verdict =
        simulate(main_alone({{R"(adjust.steps=[{ at = "2 s", stage = "bypass", cock = 1, over = "0.5 s" },)"
                              R"( { at = "2 s", stage = "bypass", outlet_cock = 1, over = "0.5 s" }])"}}),
                 {}, Signals::judged)
            .verdict;
    REQUIRE(verdict.size() == 2);
    const auto scenario = main_alone();
    CHECK(verdict[0].fall_off == relative(set_of(scenario, "main") - verdict[0].flowing_pressure, 1e-9));
    CHECK(verdict[1].fall_off == relative(set_of(scenario, "bypass") - verdict[1].flowing_pressure, 1e-9));
}

TEST_CASE("a motion that is shut in with a stage says nothing of the station" * doctest::test_suite("long")) {
    // An undamped stem on the water of its chamber: it goes on for ever, in there.
    const std::vector<scenarios::Override> undamped{
        {R"(intermediate.override={ sensing_port.capacity = "200 Cv", stem_damping = "0 N s/m", stem_friction = "0 N" })"}};
    constexpr std::size_t few = 6;
    const FlowSweep sweep{3e-3, 14e-3, few};
    const auto with = flow_map(main_alone(undamped), sweep), without = flow_map(main_alone(), sweep);
    REQUIRE(with.points.size() == without.points.size());
    for (std::size_t i = 0; i < few; ++i) {
        CAPTURE(without.points[i].flow);
        CHECK(with.points[i].steady == without.points[i].steady);
        CHECK(with.points[i].mode == without.points[i].mode);
        CHECK(with.points[i].worst.frequency == relative(without.points[i].worst.frequency, 1e-6));
    }
    CHECK_FALSE(with.points.front().steady);
    CHECK(with.points.back().steady);
    auto still = main_alone(undamped);
    still.demand.start = 14e-3;
    CHECK(simulate(still, {}, Signals::judged).verdict.back().stability.kind == Stability::Kind::holds);
}
