// One valve, two, three: what people who stage stations say of them. Common practice, no source: a 4-inch valve needs
// about 50 US gpm to be steady; a bypass carries 0 to about 10 gpm and leaves a dead zone between; an intermediate valve,
// each stage set 5 psi below the one before, closes it. Asked of generic hardware in the installation of the reference
// stage (tests/reference_stage.h): rigid columns of water and a little storage at their ends.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/commands/stage.h"
#include "tools/studies/demand_ramp.h"
#include "tools/studies/flow_map.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <filesystem>
#include <string>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double psi = 6894.757293168361;   // Pa
constexpr double gpm = 3.785411784e-3 / 60; // m3/s, US
constexpr double static_pressure = 70 * psi;

const std::string installation = R"(
title = "staged station"
units = "US"
[supply]
pressure = "109 psi"
pipe = { length = "30 m", bore = "100 mm", friction_factor = 0.02, cells = 1 }
storage = "2e-10 m3/Pa"
[downstream]
pipe = { length = "40 m", bore = "100 mm", friction_factor = 0.02, cells = 1 }
storage = "1e-9 m3/Pa"
far_end_storage = "1e-9 m3/Pa"
[demand]
at_pressure = "60 psi"
start = "20 gpm"
[run]
duration = "10 s"
)";
const std::string main_valve = R"(
[[stage]]
name = "main"
hardware = "pilot-operated/DN100"
flowing_pressure = "60 psi"
opening_control = "3 turns"
closing_control = "6 turns"
)";
/// 5 psi above what comes next.
std::string bypass(int setting) {
    return R"(
[[stage]]
name = "bypass"
hardware = "direct-acting/DN20"
set_pressure = ")"
           + std::to_string(setting) + " psi\"\n";
}
const std::string intermediate = R"(
[[stage]]
name = "intermediate"
hardware = "direct-acting/DN40"
set_pressure = "65 psi"
)";

scenarios::Scenario station(const std::string& stages, const std::vector<scenarios::Override>& changes = {}) {
    const std::vector<std::filesystem::path> folders{std::filesystem::path{tests::source_folder()}
                                                     / "scenarios/hardware"};
    return scenarios::parse_scenario(installation + stages, "station", changes, folders);
}

constexpr FlowSweep from_1_to_300_gpm{1 * gpm, 300 * gpm, 200};

} // namespace

TEST_CASE("a 4-inch valve alone hunts up to a minimum continuous flow of about 50 gpm") {
    const auto map = flow_map(station(main_valve), from_1_to_300_gpm);
    REQUIRE(map.unsteady.size() == 1);
    CHECK(map.unsteady.front().from < 5 * gpm);
    const double minimum = map.minimum_continuous_flow() / gpm;
    CAPTURE(minimum);
    // "About 50" says nothing of pressures, turns and pipes, which move it as much: a factor of two either way.
    CHECK(minimum > 25);
    CHECK(minimum < 100);
}

TEST_CASE("with a bypass the station is steady up to where the bypass is wide open, then comes a dead zone") {
    const auto alone = flow_map(station(main_valve), from_1_to_300_gpm);
    const auto map = flow_map(station(main_valve + bypass(65)), from_1_to_300_gpm);
    REQUIRE(map.unsteady.size() == 1);
    const auto& dead = map.unsteady.front();
    CHECK_FALSE(dead.from_start);
    CHECK(dead.from / gpm > 9);
    CHECK(dead.from / gpm < 17); // "10 to 15 gpm": the next size of the family is half as large again
    CHECK(dead.to
          == relative(alone.minimum_continuous_flow(), 0.1)); // a bypass wide open neither helps nor harms
    REQUIRE(map.hand_overs.size() == 1);
    CHECK(map.hand_overs.front().fall_off == relative(5 * psi, 0.1));
    CHECK(dead.from == relative(map.hand_overs.front().flow, 0.1)); // the main valve takes over, and hunts
}

TEST_CASE("with a damped intermediate stage every flow from 1 to 300 gpm is steady") {
    const auto map = flow_map(station(main_valve + intermediate + bypass(70)), from_1_to_300_gpm);
    CHECK(map.unsteady.empty());
    REQUIRE(map.hand_overs.size() == 2);
    CHECK(map.hand_overs[0].fall_off == relative(5 * psi, 0.1));
    CHECK(map.hand_overs[1].fall_off == relative(10 * psi, 0.1));
    CHECK(map.stages[map.hand_overs[0].stage] == "intermediate");
    CHECK(map.stages[map.hand_overs[1].stage] == "main");
    for (std::size_t i = 1; i < map.points.size(); ++i)
        CHECK(map.points[i].outlet_pressure <= map.points[i - 1].outlet_pressure);
}

TEST_CASE("an intermediate stage hunts by itself with no damping in port and stem and no friction") {
    // The stem's own damping goes and the chamber is open to the outlet; what is left is a mass on a spring.
    const auto map = flow_map(station(main_valve + intermediate + bypass(70),
                                      {{"intermediate.override={ sensing_port.capacity = \"200 Cv\", "
                                        "stem_damping = \"0 N s/m\", stem_friction = \"0 N\" }"}}),
                              from_1_to_300_gpm);
    const bool by_itself = std::ranges::any_of(
        map.unsteady, [](const auto& band) { return band.mode.find("intermediate") != std::string::npos; });
    CHECK(by_itself);
}

TEST_CASE("in a slow ramp the stages hand over smoothly up and down") {
    const auto ramp =
        ramp_up_and_down(station(main_valve + intermediate + bypass(70)), 1 * gpm, 250 * gpm, 300);
    REQUIRE(ramp.failure.empty());
    CAPTURE(ramp.hysteresis / psi);
    CAPTURE(ramp.hysteresis_at / gpm);
    CAPTURE(ramp.swing_at / gpm);
    CHECK(ramp.rise < 0.1 * psi); // never rises with flow: what a gauge cannot show
    CHECK(ramp.lowest
          > static_pressure - 11 * psi); // the staged sum is 10 psi, the ramp itself takes a little
    CHECK(ramp.hysteresis < 1 * psi);
    CHECK(ramp.swing < 0.5 * psi);
}

TEST_CASE("a slow ramp through the dead zone of a bypass hunts in it") {
    const auto scenario = station(main_valve + bypass(65));
    const auto map = flow_map(scenario, from_1_to_300_gpm);
    REQUIRE(map.unsteady.size() == 1);
    const auto ramp = ramp_up_and_down(scenario, 5 * gpm, 100 * gpm, 60);
    CHECK(ramp.swing > 0.5 * psi);
    // On the way down hunting that has begun goes on below the limit for small motions: two thirds of it, measured.
    CHECK(ramp.swing_at > 0.5 * map.unsteady.front().from);
    CHECK(ramp.swing_at < 1.1 * map.unsteady.front().to);
}

TEST_CASE("asked for a station for 1 to 500 gpm staging proposes one that holds and warns of leaving out a "
          "stage"
          * doctest::test_suite("long")) {
    const std::vector<std::filesystem::path> folders{std::filesystem::path{tests::source_folder()}
                                                     / "scenarios/hardware"};
    const Wanted wanted{1 * gpm, 500 * gpm, static_pressure, 109 * psi};
    const auto staging = propose_staging(wanted, station(main_valve), folders);
    CHECK(staging.chosen.steady());
    REQUIRE(staging.chosen.scenario.stages.size() == 3);
    REQUIRE(staging.without_intermediate.has_value());
    CHECK_FALSE(staging.without_intermediate->map.unsteady.empty());
    CHECK(staging.chosen.regulates());
    const auto& points = staging.chosen.map.points;
    CHECK(points.front().flow == relative(wanted.low, 1e-3)); // delivered, not wanted
    CHECK(points.back().flow == relative(wanted.high, 1e-3));
    const auto ramp = prove(staging.chosen);
    CHECK(ramp.failure.empty());
    CHECK(ramp.swing < 0.5 * psi);
    CHECK(ramp.lowest > static_pressure - 11 * psi);
    const auto text = staging_text(wanted, staging, ramp);
    CHECK(text.find("DEAD ZONE") != std::string::npos);
    CAPTURE(text);
    CHECK(text.find("HOLDS") != std::string::npos);
    // The settings are 5 psi apart, the main valve's as it flows.
    CHECK(staging.chosen.scenario.stages[2].set_pressure == relative(static_pressure, 1e-12));
    CHECK(staging.chosen.scenario.stages[1].set_pressure == relative(static_pressure - 5 * psi, 1e-12));
    CHECK(staging.chosen.set[0] == relative(static_pressure - 10 * psi, 1e-12));
    CHECK(text.find("60.0 psi flowing") != std::string::npos);
    for (const auto& stage : staging.chosen.scenario.stages) {
        CHECK(stage.cock == 1.0);
        CHECK(stage.outlet_cock == 1.0);
    }
}

TEST_CASE("a proposal that hunts says FAILS and where") {
    const std::vector<std::filesystem::path> folders{std::filesystem::path{tests::source_folder()}
                                                     / "scenarios/hardware"};
    const Wanted wanted{1 * gpm, 300 * gpm, static_pressure, 109 * psi};
    const auto scenario = station(main_valve);
    const Staging alone{.chosen = {scenario,
                                   {static_pressure},
                                   wanted.high,
                                   from_1_to_300_gpm,
                                   flow_map(scenario, from_1_to_300_gpm)},
                        .without_intermediate = {},
                        .main_sized_by = SizedBy::capacity};
    const auto text = staging_text(wanted, alone, {});
    CHECK(text.find("FAILS:\n  unsteady from") != std::string::npos);
    CHECK(text.find("HOLDS") == std::string::npos);
}

#ifdef NDEBUG // the speed of a program built for speed
TEST_CASE("a map of 200 flows for three stages takes well under a second" * doctest::test_suite("pace")) {
    const auto scenario = station(main_valve + intermediate + bypass(70));
    const std::clock_t begin = std::clock();
    flow_map(scenario, from_1_to_300_gpm);
    const double seconds =
        static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC; // of this program, not of others
    CAPTURE(seconds);
    CHECK(seconds < 0.8); // 0.1 s measured on an idle core
}
#endif
