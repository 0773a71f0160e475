/// The file of what a person knows of a valve: what is read, and what is refused.
#include "scenarios/measured.h"

#include "tests/own_folder.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <utility>
#include <vector>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

MeasuredValve read(const std::string& text) { return parse_measured(text, "valve.toml", hardware_folders); }

constexpr auto generic = "generic = \"pilot-operated/DN65\"\n";
constexpr auto stroke =
    "[[closing]]\nclosing_control = \"1 turn\"\ntime = \"6 s\"\ninlet_pressure = \"7 bar\"\n"
    "outlet_pressure = \"3 bar\"\n";
constexpr auto flowing =
    "[[flowing]]\nflow = \"8 L/s\"\ninlet_pressure = \"7 bar\"\nstatic_pressure = \"4.5 bar\"\n"
    "flowing_pressure = \"4.1 bar\"\n";

/// `text` with its first `from` replaced by `to`.
std::string with(std::string text, const std::string& from, const std::string& to) {
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

void check_refused(const std::string& text, std::string_view what) {
    const auto message = error_of([&] { read(text); });
    CAPTURE(text);
    CAPTURE(message);
    CHECK(message.starts_with("valve.toml"));
    CHECK(message.find(what) != std::string::npos);
    CHECK(message.find('\n') == std::string::npos);
}

} // namespace

TEST_CASE("the example of a measured valve has every key of the format") {
    const auto valve = read_measured(source / "scenarios/measured/nursery-main.toml", hardware_folders);
    const double rounding = 4e-15; // some of a unit conversion and a sum
    CHECK(valve.generic.name == "pilot-operated/DN65");
    CHECK(valve.stated == valve.generic);
    REQUIRE(valve.capacity);
    CHECK(valve.capacity->value == relative(70.0 / 3600 / std::sqrt(1e5), rounding));
    CHECK(valve.capacity->high == relative(1.05 * valve.capacity->value, rounding));
    REQUIRE(valve.seat_bore);
    CHECK(valve.seat_bore->low == relative(64e-3, rounding));
    REQUIRE(valve.full_lift);
    REQUIRE(valve.restriction_bore);
    REQUIRE(valve.cover_displacement);
    CHECK(valve.cover_displacement->high == relative(135e-6, rounding));
    REQUIRE(valve.pressure_per_turn);
    REQUIRE(valve.screw_pitch);
    REQUIRE(valve.full_turns);
    CHECK(valve.full_turns->value == 6);
    REQUIRE(valve.closing.size() == 2);
    CHECK(valve.closing[1].turns.value == 0.5);
    CHECK(valve.closing[1].time.low == 26);
    CHECK(valve.closing[1].inlet_pressure.high == 7.5e5);
    CHECK(!valve.closing[1].other);
    CHECK(valve.closing[1].part == 1);
    REQUIRE(valve.flowing.size() == 1);
    CHECK(valve.flowing[0].flow.value == relative(7e-3, rounding));
    REQUIRE(valve.flowing[0].cover_pressure);
}

TEST_CASE("all that is known may be left out but the generic valve") {
    const auto valve = read(generic);
    CHECK(!valve.capacity);
    CHECK(valve.closing.empty());
    CHECK(valve.generic.ranges.size() == 29);
    CHECK(valve.units == UnitSystem::si);
    check_refused("", "generic: missing; write");
}

TEST_CASE("what the file states beside its keys changes the stated valve and not the generic one") {
    const auto valve =
        read(std::string(generic) + "override = { main_valve.moving_mass = \"2 kg +- 5 %\" }\n");
    CHECK(valve.stated.main_valve.moving_mass == 2);
    CHECK(valve.generic.main_valve.moving_mass == 1.65);
}

TEST_CASE("a measured file that is wrong is refused in one line that says where and what is allowed") {
    const std::string g = generic, closing = g + stroke, flows = g + flowing;
    for (const auto& [text, what] : std::vector<std::pair<std::string, std::string>>{
             {"generic = \"pilot-operated/DN66\"",
              "valve.toml:1: generic = \"pilot-operated/DN66\": no such size"},
             {"generic = \"direct-acting/DN25\"", "a pilot-operated valve is wanted"},
             {"generic = 3", "a text in quotes is wanted"},
             {g + "capacty = \"70 Kv\"",
              "valve.toml:2: capacty = \"70 Kv\": unknown key; nearest is capacity; allowed:"},
             {g + "capacity = 70", "missing unit"},
             {g + "capacity = \"70 mm\"", "mm is a length"},
             {g + "capacity = \"-70 Kv\"", "greater than 0"},
             {g + "capacity = \"70 Kv +- 100 %\"", "reaches 0.00 Kv; must be greater than 0"},
             {g + "capacity = \"80..70 Kv\"", "lower end first"},
             {g + "capacity = \"\"", "not a capacity"},
             {g + "seat_bore = \"65 mm x/ 0.5\"", "1 or more"},
             {g + "full_turns = \"6 mm\"", "mm is a length"},
             {g + "units = \"metric\"", "allowed: SI, US"},
             {g + "closing = 3", "a list of tables is wanted"},
             {with(closing, "time = \"6 s\"\n", ""),
              "closing.time: missing; write e.g. time = \"6 s +- 0.3 s\""},
             {with(closing, "time = \"6 s\"", "time = \"0 s\""), "greater than 0"},
             {with(closing, "closing_control = \"1 turn\"\n", ""), "closing.closing_control: missing"},
             {with(closing, "1 turn", "9 turns"), "turned further than fully open, 6.00 turns"},
             {with(closing, "3 bar", "8 bar"), "must nowhere be above inlet_pressure"},
             {with(closing, "3 bar", "3 bar..7.1 bar"), "must nowhere be above inlet_pressure"},
             {closing + "part = 1.5\n", "must be greater than 0, at most 1"},
             {closing + "stroke = 1\n", "unknown key; "},
             {with(flows, "flowing_pressure = \"4.1 bar\"", "flowing_pressure = \"4.6 bar\""),
              "must be below static_pressure"},
             {with(flows, "inlet_pressure = \"7 bar\"", "inlet_pressure = \"4 bar\""),
              "must be below inlet_pressure"},
             {g + "override = { pilot.capacty = \"1 Cv\" }", "nearest is capacity"},
             {g + "override = 3", "a table of keys is wanted"},
             {g + "override = { main_valve.jet_angle = \"69 deg\" }",
              "must not state area_change, jet_angle or"},
             {g + "override.pilot.seat_bore = \"5 mm\"", "must not state area_change, jet_angle or"},
             {"generic = ", "valve.toml:1"},
         })
        check_refused(text, what);
}
