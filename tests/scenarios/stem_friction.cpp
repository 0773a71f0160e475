/// The friction of a stem from its keys to the part of the model.
#include "scenarios/build.h"
#include "scenarios/plausibility.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <string>

using namespace needleturn;
using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

models::PilotStage stage_of(std::initializer_list<const char*> changes) {
    return build(nursery(changes)).parts.stages.front();
}

} // namespace

TEST_CASE("a stem sticks as its keys say, and its presliding damping is half the critical one") {
    const auto valve = stage_of({}).valve;
    REQUIRE(valve.friction);
    CHECK(valve.friction->coulomb == 5);
    CHECK(valve.friction->breakaway == 25);
    CHECK(valve.friction->stiffness == relative(25 / 40e-6, 1e-12));
    CHECK(valve.friction->damping == relative(std::sqrt(25 / 40e-6 * valve.moving_mass), 1e-12));
}

TEST_CASE("a stem of which the Coulomb force alone is known breaks away at that, after 20 um") {
    const auto pilot = stage_of({"main.override.pilot.stem_friction=0.5 N"}).pilot;
    REQUIRE(pilot.friction);
    CHECK(pilot.friction->breakaway == 0.5);
    CHECK(pilot.friction->presliding() == relative(20e-6, 1e-12));
}

TEST_CASE("without friction there is no state of it") {
    const models::Station station(
        build(nursery({"main.override={ main_valve.stem_friction = \"0 N\" }"})).parts);
    for (const auto& state : station.states()) {
        CHECK(state.role != Role::held);
        CHECK(state.name.find("presliding") == std::string::npos);
    }
    const models::Station sticks(
        build(nursery({"main.override={ main_valve.stem_friction = \"5 N\" }"})).parts);
    CHECK(sticks.states().size() == station.states().size() + 1);
}

TEST_CASE("a break-away force below the Coulomb force gives way to it, and is warned of") {
    const auto easy = nursery({"main.override.main_valve.stem_breakaway=4 N"});
    CHECK(build(easy).parts.stages[0].valve.friction->breakaway == 5);
    const auto warned = [](const Scenario& scenario) {
        return std::ranges::count_if(static_warnings(scenario), [](const std::string& warning) {
            return warning.find("stem_breakaway of ") == 0;
        });
    };
    CHECK(warned(easy) == 1);
    CHECK(warned(nursery({})) == 0);
}

TEST_CASE("a stem that no pressure moves, or that never slips, is warned of") {
    const auto warned = [](const std::string& override) {
        std::string all;
        const auto change = "main.override=" + override;
        for (const auto& warning :
             static_warnings(nursery({change.c_str(), "supply.pressure=7.5 bar", "supply.steps=[]"})))
            all += warning + "\n";
        return all;
    };
    const auto has = [](const std::string& all, const char* part) {
        return all.find(part) != std::string::npos;
    };
    const double area = nursery({}).stages[0].pilot_operated()->main_valve.diaphragm_area;
    const auto friction = [&](double pressure) {
        return warned(fmt::format("{{ main_valve.stem_friction = \"{:.3f} N\" }}", pressure * area));
    };
    CHECK(has(friction(7.52e5),
              "the stem of main sticks up to 7.52 bar on its diaphragm: more than the 7.50 bar of the "
              "supply, so that no pressure moves it\n"));
    CHECK_FALSE(has(friction(7.48e5), "no pressure moves it"));
    CHECK(has(warned("{ main_valve.stem_presliding = \"50 mm\" }"),
              "stem_presliding of main is 50.00 mm, not less than "));
    CHECK_FALSE(has(warned("{ main_valve.stem_presliding = \"50 mm\", main_valve.stem_friction = \"0 N\" }"),
                    "presliding"));
}

TEST_CASE("friction of 0 is none, whatever would break the stem away") {
    CHECK_FALSE(stage_of({"main.override.main_valve.stem_friction=0 N"}).valve.friction);
    CHECK_FALSE(stage_of({"main.override.pilot.stem_breakaway=1 N"}).pilot.friction);
}

TEST_CASE("the friction of a pilot's stem may have a range") {
    const auto scenario = nursery({"main.override.pilot.stem_friction=0.5 N x/ 2"});
    CHECK(std::ranges::any_of(ranges_of(scenario.stages[0].hardware), [](const HardwareRange& range) {
        return range.key == "pilot.stem_friction" && range.low == relative(0.25, 1e-12);
    }));
}
