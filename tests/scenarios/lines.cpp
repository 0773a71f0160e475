/// Lines with inertia and lengths of pipe beside the valve, from their keys to the parts of the model.
#include "models/laws/water.h"
#include "models/laws/wave_speed.h"
#include "scenarios/build.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <numbers>
#include <string>

using namespace needleturn;
using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

constexpr double ml_per_bar = 1e-11; // m3/Pa
const std::string pilot_operated = R"(hardware = "pilot-operated/DN65", opening_control = "3 turns",
    closing_control = "6 turns", )";
const std::string direct_acting = R"(hardware = "direct-acting/DN25", )";

/// A station with `keys` of its stage and of its line; the stage stands in line 2 of the text, the line in lines 4 and 5.
std::string station(const std::string& stage, const std::string& supply = "",
                    const std::string& downstream = "") {
    std::string one_line = stage;
    for (auto& c : one_line)
        if (c == '\n')
            c = ' ';
    return "title = \"lines\"\nstage = [{ " + one_line + "set_pressure = \"4 bar\" }]\n"
           + "demand.start = \"1 L/s\"\n" + "supply = { pressure = \"7 bar\", " + supply
           + "pipe = { length = \"30 m\", bore = \"65 mm\" } }\n" + "downstream = { " + downstream
           + "pipe = { length = \"40 m\", bore = \"65 mm\" } }\nrun.duration = \"10 s\"\n";
}

Scenario read(const std::string& text) { return parse_scenario(text, "night.toml", {}, hardware_folders); }

/// Of the point on one side of the valve, beyond the pipes' own.
models::Storage at_inlet(const std::string& keys) {
    return build(read(station(pilot_operated, keys))).parts.points[0].storage;
}
models::Storage at_outlet(const std::string& keys) {
    return build(read(station(pilot_operated, "", keys))).parts.points[1].storage;
}

/// "0.86 m" of hose or pipe, m3/Pa.
double gives(const std::string& length, const std::string& kind) {
    return at_outlet("pipes_beside = [{ length = \"" + length + "\", kind = \"" + kind + "\" }], ")
        .per_pascal;
}

models::Water water() { return models::water_at(288.15, 7e5 + models::atmospheric_pressure); }

const std::string tube = R"({ length = "0.3 m", bore = "6 mm" }, )";
const double tube_inertance = 0.3 / (std::numbers::pi / 4 * 6e-3 * 6e-3); // times the density

} // namespace

TEST_CASE("a cover line has inertia as its key says, and without it no state") {
    const auto with = build(read(station(pilot_operated + "override.cover_line = " + tube))).parts;
    const auto without = build(read(station(pilot_operated))).parts;
    REQUIRE(with.stages.front().cover_line);
    CHECK(with.stages.front().cover_line->inertance == relative(water().density * tube_inertance, 1e-12));
    CHECK(!without.stages.front().cover_line);
    const models::Station coasts(with), plain(without);
    REQUIRE(coasts.states().size() == plain.states().size() + 1);
    CHECK(coasts.states()[coasts.stage(0).cover_line].name == "main.cover_line_flow");
}

TEST_CASE("a direct-acting valve senses through its port alone or through a line as well") {
    const auto with = build(read(station(direct_acting + "override.sensing_line = " + tube))).parts;
    const auto without = build(read(station(direct_acting))).parts;
    const auto& stage = with.direct_stages.front();
    REQUIRE(stage.sensing_line);
    CHECK(stage.sensing_line->inertance == relative(water().density * tube_inertance, 1e-12));
    CHECK(stage.sensing_line->capacity == stage.valve.port_capacity);
    CHECK(!without.direct_stages.front().sensing_line);
    CHECK(models::Station(with).states().size() == models::Station(without).states().size() + 1);
}

TEST_CASE("a line of a valve may be changed and have ranges, and half a line is refused in one line") {
    const auto line = nursery({"main.override.cover_line.length=0.5 m +- 10 %"});
    CHECK(line.stages.front().pilot_operated()->cover_line == TubeHardware{0.5, 6e-3});
    const auto& ranges = ranges_of(line.stages.front().hardware);
    CHECK(std::ranges::find(ranges, "cover_line.length", &HardwareRange::key) != ranges.end());
    for (const auto* half : {R"(override.cover_line = { length = "0.3 m" }, )",
                             R"(override.cover_line = { bore = "6 mm" }, )"}) {
        const auto message = error_of_text(station(pilot_operated + half));
        CHECK_MESSAGE(message.find(": missing; write ") != std::string::npos, message);
        CHECK_MESSAGE(message.find("cover_line") != std::string::npos, message);
        CHECK(message.find('\n') == std::string::npos);
    }
}

TEST_CASE("lengths beside a valve store what their water and walls give, at the inlet and at the outlet") {
    const std::string beside = R"(storage = "2 mL/bar", pipes_beside = [
        { length = "0.5 m", bore = "65 mm" }, { length = "3 m", kind = "copper/22" }], )";
    std::string one_line = beside;
    one_line.erase(one_line.find('\n'), 1);
    // A L / (rho a^2) is A L (1/K + psi D/(E e)), psi for a thick wall that is free to stretch.
    const double rigid_pipe = std::numbers::pi / 4 * 0.065 * 0.065 * 0.5,
                 copper_pipe = std::numbers::pi / 4 * 4e-4 * 3;
    const double wall_factor = 2 * 1e-3 / 20e-3 * 1.34 + 20.0 / 21;
    const double more =
        (rigid_pipe + copper_pipe) / water().bulk_modulus + copper_pipe * wall_factor * 20 / 117e9;
    for (const auto& storage : {at_inlet(one_line), at_outlet(one_line)}) {
        CHECK(storage.per_pascal == relative(2 * ml_per_bar + more, 1e-9));
        // The gas that it carries is that of its water: what is stated counts as that in the pipe beside it.
        CHECK(storage.per_pascal * storage.modulus
              == relative(2 * ml_per_bar * water().bulk_modulus + rigid_pipe + copper_pipe, 1e-9));
    }
    const auto scenario = read(station(pilot_operated, one_line, one_line));
    CHECK(parse_scenario(resolved(scenario), "resolved.toml") == scenario);
    CHECK(at_inlet("").per_pascal == 0); // nothing is there that is not stated
}

TEST_CASE("a length beside a valve has no friction, rise or fittings") {
    for (const std::string key : {"rise = \"1 m\"", "elbows = 2", "roughness = \"1 mm\"", "cells = 3"}) {
        const auto message = error_of_text(station(
            pilot_operated, "pipes_beside = [{ length = \"1 m\", bore = \"65 mm\", " + key + " }], "));
        CHECK_MESSAGE(message.starts_with("night.toml:4: supply.pipes_beside."), message);
        CHECK_MESSAGE(message.find("unknown key") != std::string::npos, message);
    }
}

TEST_CASE("50 mL/bar are those of 0.86 m of hose as wide as the valve, or of 15 m of 19 mm") {
    CHECK(gives("0.86 m", "rubber-hose/63") == relative(50 * ml_per_bar, 0.01));
    CHECK(gives("15 m", "rubber-hose/19") == relative(50 * ml_per_bar, 0.02));
    CHECK(gives("1 m", "steel/DN65") == relative(0.21 * ml_per_bar, 0.02));
}
