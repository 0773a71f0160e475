/// What reaches the outlets against what is wanted of the line.
#include "tools/studies/delivery.h"
#include "tools/results/doubts.h"

#include "scenarios/read_scenario.h"
#include "tests/places.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <string>
#include <vector>

using namespace needleturn;

namespace {

scenarios::Scenario changed(const char* name, std::vector<scenarios::Override> changes = {}) {
    return scenarios::read_scenario(std::filesystem::path(tests::source_folder() + "/scenarios") / name,
                                    changes);
}

} // namespace

TEST_CASE("every committed scenario but those whose supply fails is asked without a doubt") {
    for (const auto& entry : std::filesystem::directory_iterator(tests::source_folder() + "/scenarios"))
        if (entry.path().extension() == ".toml" && entry.path().stem() != "nursery-pump-trip"
            && entry.path().stem() != "elmhurst-strainer") {
            CAPTURE(entry.path());
            CHECK(warnings_of(scenarios::read_scenario(entry.path())).empty());
        }
}

TEST_CASE("what a line without a valve in its way would pass bounds what is delivered of too much wanted") {
    const auto scenario =
        changed("nursery-day.toml", {{"demand.start=200 L/s"}, {"supply.pipe.friction_factor=0.02"}});
    const auto told = warnings_of(scenario);
    REQUIRE(told.size() == 1);
    CHECK(told.front().starts_with("the demand wants 200.00 L/s and gets "));
    const auto list = deliveries(scenario);
    REQUIRE(list.size() == 1); // the other flows of the day are less
    // Darcy and Weisbach, the supply pipe alone and all of the supply's pressure: v = sqrt(2 p d / (rho f l)).
    const auto& pipe = scenario.supply.pipe;
    const double speed = std::sqrt(2 * scenario.supply.pressure * pipe.bore / (999.1 * 0.02 * pipe.length));
    const double most = speed * std::numbers::pi / 4 * pipe.bore * pipe.bore;
    CHECK(list.front().delivered < most);
    CHECK(list.front().delivered > 0.1 * most);
}

TEST_CASE("half of the stated pressure at the outlets is the least that goes without a warning") {
    CHECK(!Delivery{"demand", 1, 0.71, {}}.far_short()); // 0.504 of the pressure
    CHECK(Delivery{"demand", 1, 0.70, {}}.far_short());  // 0.49
    CHECK(!Delivery{"demand", 0, 0, {}}.far_short());
}

TEST_CASE("a fixed flow that the line cannot pass is told and so is a branch that is starved"
          * doctest::test_suite("long")) {
    CHECK(
        warnings_of(changed("nursery-day.toml", {{"demand={ kind = \"draw\", start = \"60 L/s\" }"}})).size()
        == 1);
    const auto told =
        warnings_of(changed("nursery-branches.toml", {{"downstream.branch.2.demand.start=40 L/s"}}));
    REQUIRE(!told.empty());
    CHECK(std::ranges::any_of(
        told, [](const auto& line) { return line.starts_with("zone_2 wants 40.00 L/s and gets "); }));
}

TEST_CASE("a steady state is found however much is wanted of the line, and more wanted delivers more") {
    double before = 0;
    for (const std::string wanted :
         {"20 L/s", "35 L/s", "40 L/s", "45 L/s", "50 L/s", "60 L/s", "200 L/s", "5000 L/s"}) {
        CAPTURE(wanted);
        const auto list = deliveries(changed("nursery-branches.toml", {{"demand.start=" + wanted}}));
        REQUIRE(list.size() == 5); // far end, boiler and three branches, at the start, the busiest moment
        CHECK(list.front().delivered > before);
        before = list.front().delivered;
    }
}

TEST_CASE("what hands and the supply do later counts: a station that starts shut is not short of water") {
    CHECK(warnings_of(changed("school-staged.toml", {{"main.cock=0"}, {"intermediate.cock=0"}})).size() == 1);
    CHECK(warnings_of(
              changed("school-staged.toml",
                      {{"main.cock=0"},
                       {"adjust.steps=[{ at = \"2 s\", stage = \"main\", cock = 1, over = \"5 s\" }]"}}))
              .empty());
    CHECK(warnings_of(changed("nursery-day.toml",
                              {{"supply.pressure=0 bar"},
                               {"supply.steps=[{ at = \"1 s\", to = \"7.5 bar\", over = \"2 s\" }]"}}))
              .empty());
}
