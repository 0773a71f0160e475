/// What presses on stems beside springs, from its keys to the parts of the model: effective area, jet, seats that are not balanced.
#include "scenarios/build.h"
#include "scenarios/static_setting.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <string>
#include <utility>
#include <vector>

using namespace needleturn;
using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

models::PilotStage stage_of(std::initializer_list<const char*> changes) {
    return build(nursery(changes)).parts.stages.front();
}

constexpr const char* direct = R"(
title = "Direct"
[supply]
pressure = "7 bar"
pipe = { length = "10 m", bore = "50 mm", wall = "4 mm", material = "steel" }
[[stage]]
name = "small"
hardware = "direct-acting/DN25"
set_pressure = "4 bar"
override = { seat_bore = "20 mm" }
[downstream]
pipe = { length = "10 m", bore = "50 mm", wall = "4 mm", material = "steel" }
[demand]
start = "0.5 L/s"
[run]
duration = "5 s"
)";

} // namespace

TEST_CASE("without their keys the area stays, the jet exerts no force and seats are balanced") {
    const auto stage = stage_of({"main.override={}"});
    CHECK(stage.valve.area_slope == 0);
    CHECK(stage.cover.area_slope == 0);
    CHECK(!stage.valve.jet);
    CHECK(!stage.pilot.unbalanced_seat);
}

TEST_CASE("an area changes in valve, cover and diaphragm as its key says") {
    const auto stage = stage_of({"main.override.main_valve.area_change=-20 %",
                                 "main.override.main_valve.diaphragm_compliance=0.2 mL/bar"});
    const auto& valve = stage.valve;
    CHECK(models::area_at(valve.diaphragm_area, valve.area_slope, valve.full_lift)
          == relative(0.8 * 106e-4, 1e-12));
    CHECK(stage.cover.area_slope == valve.area_slope);
    REQUIRE(stage.diaphragm);
    CHECK(stage.diaphragm->area_slope == valve.area_slope);
}

TEST_CASE("a jet has the momentum of its angle and of the water's density") {
    const auto valve = stage_of({"main.override.main_valve.jet_angle=60 deg"}).valve;
    REQUIRE(valve.jet);
    CHECK(*valve.jet == relative(0.5 * std::sqrt(2 * 999.8), 1e-4)); // of 12 degC at 7.5 bar, from memory
    CHECK(std::abs(*stage_of({"main.override.main_valve.jet_angle=90 deg"}).valve.jet) < 1e-14);
}

TEST_CASE("seats that are not balanced have the area of their bore and the inlet pressure of the start") {
    const auto pilot = stage_of({"main.override.pilot.seat_bore=5 mm"}).pilot;
    REQUIRE(pilot.unbalanced_seat);
    CHECK(pilot.unbalanced_seat->area == relative(std::numbers::pi / 4 * 25e-6, 1e-12));
    CHECK(pilot.unbalanced_seat->set_at == 7.5e5);
    // A supply below the setting is none that a screw was set at.
    CHECK(stage_of({"main.override.pilot.seat_bore=5 mm", "supply.pressure=3 bar"})
              .pilot.unbalanced_seat->set_at
          == 4.2e5);
    const auto seat = build(parse_scenario(direct, "direct.toml", {}, hardware_folders))
                          .parts.direct_stages.front()
                          .valve.unbalanced_seat;
    REQUIRE(seat);
    CHECK(seat->area == relative(std::numbers::pi / 4 * 4e-4, 1e-12));
    CHECK(seat->set_at == 7e5);
}

TEST_CASE("turns of a screw are a force of its spring, whatever the supply brings") {
    // What a gauge shows when the valve just shuts, by the balance of forces on the disc: spring = A p + A_o (p_in - p).
    constexpr double turns = 20, atop = 19;
    std::vector<double> shuts;
    for (const double supply : {8e5, 12e5, 16e5}) {
        CAPTURE(supply);
        auto text = std::string(direct);
        text.replace(text.find("set_pressure = \"4 bar\""), 22, "adjusting_screw = \"20 turns\"");
        text.replace(text.find("7 bar"), 5, fmt::format("{} Pa", supply));
        text += "[adjust]\nsteps = [{ at = \"1 s\", stage = \"small\", adjusting_screw = \"19 turns\" }]\n";
        const auto scenario = parse_scenario(text, "direct.toml", {}, hardware_folders);
        const auto& valve = *scenario.stages.front().direct_acting();
        const double area = valve.diaphragm_area, seat = bore_area(*valve.seat_bore);
        const auto spring = [&](double set) { return area * set + seat * (supply - set); };
        const double per_turn = area * valve.pressure_per_turn;
        CHECK(spring(scenario.stages.front().set_pressure) == relative(turns * per_turn, 1e-12));
        CHECK(spring(scenario.adjustments.front().to) == relative(atop * per_turn, 1e-12));
        shuts.push_back(scenario.stages.front().set_pressure);
        // So the model has it, too: nothing presses on the disc besides when it just shuts there.
        const auto built = build(scenario);
        const auto& part = built.parts.direct_stages.front().valve;
        CHECK(std::abs(part.unbalanced_seat->force(supply - shuts.back(), shuts.back())) < 1e-9);
    }
    CHECK(shuts[0] - shuts[2] > 0.4e5); // README: 0.067 bar per bar of inlet
    CHECK(shuts[0] - shuts[2] < 0.7e5);
}

TEST_CASE("a spring that the inlet pressure alone overcomes is refused") {
    auto text = std::string(direct);
    text.replace(text.find("set_pressure = \"4 bar\""), 22, "adjusting_screw = \"1 turn\"");
    CHECK(error_of_text(text).find("adjusting_screw = \"1 turn\": must be more") != std::string::npos);
}

TEST_CASE("without a seat that presses turns are pressure per turn") {
    auto text = std::string(direct);
    text.replace(text.find("set_pressure = \"4 bar\""), 22, "adjusting_screw = \"20 turns\"");
    const auto override = text.find("override");
    text.erase(override, text.find('\n', override) - override);
    const auto scenario = parse_scenario(text, "direct.toml", {}, hardware_folders);
    const auto& stage = scenario.stages.front();
    CHECK(stage.set_pressure == 20 * stage.direct_acting()->pressure_per_turn);
}

TEST_CASE("these keys carry ranges where the hardware has them") {
    /// Upper end, m; nothing: no range.
    const auto highest_bore = [](const char* override) -> std::optional<double> {
        const auto scenario = nursery({override});
        const auto& ranges = ranges_of(scenario.stages.front().hardware);
        const auto found = std::ranges::find(ranges, "pilot.seat_bore", &HardwareRange::key);
        return found == ranges.end() ? std::nullopt : std::optional{found->high};
    };
    CHECK(highest_bore("main.override={ pilot.seat_bore = \"5 mm +- 10 %\" }").value_or(0)
          == relative(5.5e-3, 1e-12));
    CHECK(highest_bore("main.override={ pilot.seat_bore = \"5 mm\", ranges.pilot.seat_bore = \"+- 20 %\" }")
              .value_or(0)
          == relative(6e-3, 1e-12));
    CHECK(!highest_bore("main.override={ pilot.seat_bore = \"5 mm\" }"));
    const auto message =
        error_of([] { nursery({"main.override={ ranges.pilot.seat_bore = \"+- 10 %\" }"}); });
    CHECK(message.find("no value of this valve") != std::string::npos); // nothing that it could be of
    CHECK(message.find('\n') == std::string::npos);
}

TEST_CASE("what these keys do not allow is refused in one line that names the key") {
    for (const auto& refused :
         {std::pair{"main.override.main_valve.area_change=-60 %", "must be from -0.5 to 1"},
          {"main.override.main_valve.area_change=3 mm", "mm is a length"},
          {"main.override.main_valve={ area_change = -0.5, seat_area = \"60 cm2\" }",
           "area_change = -0.5: must leave the diaphragm larger than the seat"},
          {"main.override={ main_valve.area_change = 1, cover.volume = \"0.3 L\" }",
           // 78.5 cm2 over 20 mm with an area that doubles; from the file of the valve
           "its volume, 300 mL, must be larger than what a full stroke displaces, diaphragm_area x full_lift "
           "x (1 + area_change / 2)"},
          {"main.override.main_valve.jet_angle=69", "missing unit; write "},
          {"main.override.main_valve.jet_angle=91 deg", "must be from 0 to 90 deg"},
          {"main.override.main_valve.jet_angle=3 bar", "an angle is wanted: deg"},
          {"main.override.pilot.seat_bore=0 mm", "must be greater than 0"},
          {"main.override.pilot.seat_bore=60 mm", "its area must be smaller than the diaphragm's"}}) {
        const char* change = refused.first;
        CAPTURE(change);
        const auto message = error_of([change] { nursery({change}); });
        CAPTURE(message);
        CHECK(message.find(refused.second) != std::string::npos);
        CHECK(message.find('\n') == std::string::npos);
    }
    auto text = std::string(direct);
    text.replace(text.find("20 mm"), 5, "90 mm");
    CHECK(error_of_text(text).find("seat_bore = \"90 mm\": its area must be smaller") != std::string::npos);
}
