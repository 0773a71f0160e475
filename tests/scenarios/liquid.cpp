/// What flows: another liquid in place of water, and free gas; from the keys to every part, and what is refused.
#include "scenarios/liquid.h"

#include "models/laws/trim.h"
#include "models/laws/wave_speed.h"
#include "scenarios/build.h"
#include "scenarios/plausibility.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>

using namespace needleturn;
using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

/// The nursery with this section, from line 5 on, in place of [water].
std::string with_section(const std::string& section) {
    const std::string water = "[water]\ntemperature = \"12 degC\"\n";
    std::ostringstream text;
    text << std::ifstream{nursery_file}.rdbuf();
    auto all = text.str();
    const auto at = all.find(water);
    REQUIRE(at != std::string::npos);
    return all.replace(at, water.size(), section);
}

/// A mixture of glycol and water at some 10 degC; invented round figures.
const std::string brine = R"([liquid]
density = "1050 kg/m3"
viscosity = "4 mPa s"
bulk_modulus = "2.6 GPa"
vapour_pressure_abs = "10 mbar"
)";

Scenario read(const std::string& section) {
    return parse_scenario(with_section(section), "night.toml", {}, hardware_folders);
}

std::string refused(const std::string& section) {
    const auto message = error_of_text(with_section(section));
    CHECK(message.find('\n') == std::string::npos);
    return message;
}

} // namespace

TEST_CASE("a stated liquid fills every part in place of water") {
    const auto scenario = read(brine);
    CHECK(parse_scenario(resolved(scenario), "resolved.toml") == scenario);
    const auto parts = build(scenario).parts;
    const auto water = build(read("")).parts;
    for (const auto& run : parts.pipes) {
        CHECK(run.pipe.density == 1050);
        CHECK(run.pipe.viscosity == relative(4e-3, 1e-12));
        CHECK(run.pipe.wave_speed < std::sqrt(2.6e9 / 1050));
    }
    CHECK(parts.trace.vapour_pressure_abs == relative(1000, 1e-12));
    CHECK(parts.points.front().storage.trace.vapour_pressure_abs == relative(1000, 1e-12));
    // A capacity is of cold water of 1000 kg/m3: q = C sqrt(dp), with the square root of the density.
    const double lighter = std::sqrt(water.pipes.front().pipe.density / 1050);
    const auto& stage = parts.stages.front();
    const auto& of_water = water.stages.front();
    CHECK(stage.valve.trim.capacity == relative(lighter * of_water.valve.trim.capacity, 1e-12));
    CHECK(stage.restriction_capacity == relative(lighter * of_water.restriction_capacity, 1e-12));
    CHECK(stage.pilot.capacity == relative(lighter * of_water.pilot.capacity, 1e-12));
    CHECK(stage.opening_control.capacity == relative(lighter * of_water.opening_control.capacity, 1e-12));
    // Choking by its own vapour pressure; F_F = 0.96 - 0.28 sqrt(p_v / p_c), p_c that of water while none is stated.
    const auto term = [](const Scenario& of) {
        return build(of).parts.stages.front().valve.trim.critical_pressure_term;
    };
    CHECK(term(scenario) == relative(1000 * (0.96 - 0.28 * std::sqrt(1000 / 22.064e6)), 1e-12));
    CHECK(term(read(brine + "critical_pressure_abs = \"80 bar\"\n"))
          == relative(1000 * (0.96 - 0.28 * std::sqrt(1000 / 80e5)), 1e-12));
    CHECK(stage.cover.trace.vapour_pressure_abs == relative(1000, 1e-12));
}

TEST_CASE("heights are weighed with the liquid that is stated") {
    // 1050 / 999.5 of the head of water at 12 degC; the outlets lie 1 m below the valve, so the pipe is made to rise.
    auto scenario = read(brine);
    scenario.downstream.pipe.rise = 10;
    CHECK(standing_head(scenario) == relative(10 * 1050 * 9.80665, 1e-12));
}

TEST_CASE("a liquid and water at a temperature are not both stated and a liquid is stated in full") {
    CHECK(refused(brine + "[water]\ntemperature = \"12 degC\"\n")
          == "night.toml:10: water = {...}: means nothing here: [liquid] says what flows");
    CHECK(refused("[liquid]\ndensity = \"1050 kg/m3\"\n")
          == "night.toml:5: liquid.viscosity: missing; write e.g. viscosity = \"3 mPa s\"");
    CHECK(refused("[liquid]\ndensity = \"50 kg/m3\"\n")
          == "night.toml:6: liquid.density = \"50 kg/m3\": out of range; must be from 500 to 2000 kg/m3");
    CHECK(refused(brine + "temperature = \"12 degC\"\n")
              .starts_with("night.toml:10: liquid.temperature = \"12 degC\": unknown key; "));
    CHECK(refused("[liquid]\ndensity = 1050\n").find("missing unit; write ") != std::string::npos);
    CHECK(refused("[liquid]\ndensity = \"1050 kg/m3\"\nviscosity = \"4 bar\"\n")
          == "night.toml:7: liquid.viscosity = \"4 bar\": bar is a pressure; a viscosity is wanted: mPa s, "
             "Pa s, cP");
    CHECK(refused("[liquid]\ndensity = \"1050 kg/m3\"\nviscosity = \"4 cP\"\nbulk_modulus = \"2 GPa\"\n"
                  "vapour_pressure_abs = \"1 bar\"\n")
          == "night.toml:9: liquid.vapour_pressure_abs = \"1 bar\": out of range; must be from 0 to 0.9 bar");
}

TEST_CASE("free gas is in every storage and slows the waves that are told of") {
    const auto clear = build(read("[water]\ntemperature = \"12 degC\"\n")).parts;
    const auto parts = build(read("[water]\ntemperature = \"12 degC\"\nfree_gas = \"0.1 %\"\n")).parts;
    CHECK(parts.trace.strength == relative(1e-3 * models::atmospheric_pressure, 1e-12));
    CHECK(parts.points.front().storage.trace == parts.trace);
    CHECK(parts.stages.front().cover.trace == parts.trace);
    for (std::size_t i = 0; i < parts.pipes.size(); ++i) {
        const auto& pipe = parts.pipes[i].pipe;
        CAPTURE(parts.pipes[i].name);
        CHECK(pipe.wave_speed == clear.pipes[i].pipe.wave_speed); // without the gas
        // Ahead of the valve at the supply's 7.5 bar, behind it at the set 4.2 bar.
        const bool ahead = parts.pipes[i].name.starts_with("supply");
        const double above =
            (ahead ? 7.5e5 : 4.2e5) + models::atmospheric_pressure - parts.trace.vapour_pressure_abs;
        CHECK(
            pipe.speed()
            == relative(models::gassy_wave_speed(pipe.wave_speed, pipe.density, parts.trace.strength, above),
                        1e-12));
        CHECK(pipe.speed() < pipe.wave_speed);
        CHECK(clear.pipes[i].pipe.speed() == clear.pipes[i].pipe.wave_speed);
    }
    CHECK(build(read(brine + "free_gas = 1e-3\n")).parts.trace.strength == parts.trace.strength);
    const auto none = build(read("[water]\ntemperature = \"12 degC\"\nfree_gas = \"0 %\"\n")).parts;
    CHECK(none.trace == clear.trace); // so that it can be swept from none
    CHECK(none.pipes.front().pipe == clear.pipes.front().pipe);
    CHECK(refused("[water]\nfree_gas = 0.5\n")
          == "night.toml:6: water.free_gas = 0.5: out of range; must be from 0 to 0.02");
}

TEST_CASE("waves faster than the liquid and a liquid too thick for the capacities are told") {
    auto fast = nursery();
    fast.downstream.pipe.wave_speed = 1500;
    const auto told = static_warnings(fast);
    REQUIRE(told.size() == 1);
    CHECK(told[0]
          == "waves are to run at 1500.00 m/s in the downstream pipe: without any wall they run at 1456.63 "
             "m/s");
    CHECK(static_warnings(nursery()).empty());
    auto thick = read(brine);
    CHECK(static_warnings(thick).empty());
    thick.liquid->viscosity = 0.021;
    const auto of_thick = static_warnings(thick);
    REQUIRE(of_thick.size() == 1);
    CHECK(of_thick[0]
          == "the liquid has a kinematic viscosity of 20 mm2/s: above 10 valves, needles and lines may pass "
             "less than "
             "their capacities say, which is not modelled");
}
