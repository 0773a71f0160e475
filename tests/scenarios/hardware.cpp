/// The generic hardware family against its stated origin and scaling.
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <fmt/format.h>

#include <fstream>
#include <iterator>
#include <numbers>
#include <string>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

PilotOperatedHardware sized(const std::string& size) {
    return *nursery({("main.hardware=pilot-operated/" + size).c_str(), "main.override={}"})
                .stages.at(0)
                .pilot_operated();
}

double cv(double value) { return value * parse_quantity("1 Cv", Dimension::capacity); }

} // namespace

TEST_CASE("DN100 is the generic set that the phenomena tests stand on") {
    const auto h = sized("DN100");
    const double rounding = 1e-15; // of a unit conversion
    CHECK(h.main_valve.seat_area == relative(7.85e-3, rounding));
    CHECK(h.main_valve.diaphragm_area == relative(1.65e-2, rounding));
    CHECK(h.main_valve.full_lift == relative(28e-3, rounding));
    CHECK(h.main_valve.moving_mass == 6);
    CHECK(h.main_valve.spring_preload == 150);
    CHECK(h.main_valve.spring_rate == 4e3);
    CHECK(h.main_valve.stem_damping == 1000);
    CHECK(h.main_valve.stem_friction == 8);
    CHECK_FALSE(h.pilot.stem_friction);
    CHECK(h.main_valve.capacity == relative(cv(200), rounding));
    CHECK(h.main_valve.trim.shape == Trim::Shape::flat_disc);
    CHECK(h.main_valve.trim.exponent == 1.8);
    CHECK(h.cover.volume == relative(1e-3, rounding));
    CHECK(h.cover.modulus == 1e9);
    CHECK(h.fixed_restriction_capacity == relative(cv(0.075), rounding)); // for 5 psi of fall-off
    CHECK(h.tee_volume == relative(30e-6, rounding));
    CHECK(h.speed_control.capacity == relative(cv(0.7), rounding));
    CHECK(h.speed_control.full_turns == 6);
    CHECK(h.speed_control.exponent == 1.3);
    CHECK(h.speed_control.check_capacity == relative(cv(1.0), rounding));
    CHECK(h.pilot.capacity == relative(cv(0.5), rounding));
    CHECK(h.pilot.full_lift == 2.5e-3);
    CHECK(h.pilot.diaphragm_area == relative(2.0e-3, rounding));
    CHECK(h.pilot.spring_rate == 170e3);
    CHECK(h.pilot.moving_mass == 0.15);
    CHECK(h.pilot.stem_damping == 60);
    CHECK(h.sensing_line.length == 0.4);
    CHECK(h.sensing_line.bore == 8e-3);
    CHECK(h.sensing_line.capacity == relative(cv(0.25), rounding));
}

TEST_CASE("the other sizes follow the scaling that the family's file states") {
    const auto one = sized("DN100");
    const double three_digits = 0.005; // half of the last of three digits, at worst 0.5 in 100
    for (const int dn : {50, 65, 80, 100, 150, 200}) {
        CAPTURE(dn);
        const auto h = sized("DN" + std::to_string(dn));
        const double s = dn / 100.0;
        const auto scaled = [&](double value, double of_dn100, double factor) {
            CHECK(value == relative(of_dn100 * factor, three_digits));
        };
        scaled(h.main_valve.seat_area, one.main_valve.seat_area, s * s);
        scaled(h.main_valve.diaphragm_area, one.main_valve.diaphragm_area, s * s);
        scaled(h.main_valve.full_lift, one.main_valve.full_lift, s);
        scaled(h.main_valve.moving_mass, one.main_valve.moving_mass, s * s * s);
        scaled(h.main_valve.spring_preload, one.main_valve.spring_preload, s * s);
        scaled(h.main_valve.spring_rate, one.main_valve.spring_rate, s);
        scaled(h.main_valve.stem_damping, one.main_valve.stem_damping, s * s);
        scaled(h.main_valve.stem_friction, one.main_valve.stem_friction, s * s);
        // What the file says of it: 0.005 bar on the diaphragm.
        CHECK(h.main_valve.stem_friction / h.main_valve.diaphragm_area == relative(500, 0.05));
        scaled(h.main_valve.capacity, one.main_valve.capacity, s * s);
        scaled(h.cover.volume, one.cover.volume, s * s * s);
        scaled(h.fixed_restriction_capacity, one.fixed_restriction_capacity, s * s);
        scaled(h.tee_volume, one.tee_volume, s * s);
        scaled(h.speed_control.capacity, one.speed_control.capacity, s * s);
        scaled(h.speed_control.check_capacity, one.speed_control.check_capacity, s * s);
        scaled(h.pilot.capacity, one.pilot.capacity, s * s);
        scaled(h.sensing_line.length, one.sensing_line.length, s);
        CHECK(h.main_valve.trim == one.main_valve.trim);
        CHECK(h.main_valve.liquid_recovery_factor == one.main_valve.liquid_recovery_factor);
        CHECK(h.cover.modulus == one.cover.modulus);
        CHECK(h.speed_control.full_turns == one.speed_control.full_turns);
        CHECK(h.speed_control.exponent == one.speed_control.exponent);
        CHECK(h.pilot.full_lift == one.pilot.full_lift);
        CHECK(h.pilot.diaphragm_area == one.pilot.diaphragm_area);
        CHECK(h.pilot.spring_rate == one.pilot.spring_rate);
        CHECK(h.pilot.moving_mass == one.pilot.moving_mass);
        CHECK(h.pilot.stem_damping == one.pilot.stem_damping);
        CHECK(h.pilot.pressure_per_turn
              == relative(h.pilot.spring_rate * 1e-3 / h.pilot.diaphragm_area, three_digits));
        CHECK(h.sensing_line.bore == one.sensing_line.bore);
        CHECK(h.sensing_line.capacity == one.sensing_line.capacity);
        CHECK(h.sensing_line.chamber_volume == one.sensing_line.chamber_volume);
    }
}

TEST_CASE("a seat may be given by its bore") {
    const auto h = *nursery({"main.override.main_valve.seat_bore=80 mm"}).stages.at(0).pilot_operated();
    CHECK(h.main_valve.seat_area == relative(std::numbers::pi * 0.04 * 0.04, 1e-15));
}

TEST_CASE("the direct-acting sizes follow the scaling that their family's file states") {
    const auto direct = [](int dn) {
        std::ifstream file{nursery_file};
        std::string text{std::istreambuf_iterator<char>{file}, {}};
        const auto adjust = text.find("[adjust]");
        text.erase(adjust, text.find("[accept]") - adjust); // its steps name no stage
        text += fmt::format("\n[[stage]]\nname = \"bypass\"\nhardware = \"direct-acting/DN{}\"\n"
                            "set_pressure = \"4.5 bar\"\n",
                            dn);
        return *parse_scenario(text, "nursery.toml", {}, hardware_folders).stages.at(1).direct_acting();
    };
    const auto one = direct(25);
    CHECK(one.spring_rate * one.full_lift / one.diaphragm_area
          == relative(4.5 * 6894.757, 0.01)); // stated: 4.5 psi
    const double three_digits = 0.005;
    double thread = 3e-3; // m a turn, 1 mm more with every size
    for (const int dn : {20, 25, 32, 40, 50}) {
        thread += 1e-3;
        CAPTURE(dn);
        const auto h = direct(dn);
        const double s = dn / 25.0;
        CHECK(h.diaphragm_area == relative(one.diaphragm_area * s * s, three_digits));
        CHECK(h.full_lift == relative(one.full_lift * s, three_digits));
        CHECK(h.moving_mass == relative(one.moving_mass * s * s * s, three_digits));
        CHECK(h.spring_rate == relative(one.spring_rate * s, three_digits));
        CHECK(h.stem_damping == relative(one.stem_damping * s * s, three_digits));
        CHECK(h.stem_friction == relative(one.stem_friction * s * s, three_digits));
        CHECK(h.stem_friction / h.diaphragm_area == relative(500, 0.05)); // stated: 0.005 bar
        CHECK(h.capacity == relative(one.capacity * s * s, three_digits));
        CHECK(h.port_capacity == relative(one.port_capacity * s * s, three_digits));
        CHECK(h.chamber_volume == relative(one.chamber_volume * s * s * s, three_digits));
        CHECK(h.pressure_per_turn == relative(h.spring_rate * thread / h.diaphragm_area, three_digits));
        CHECK(h.trim == one.trim);
    }
}

TEST_CASE("every size says that it is generic") {
    for (const auto& [family, sizes] :
         {std::pair{"pilot-operated.toml", 6}, std::pair{"direct-acting.toml", 5}}) {
        CAPTURE(family);
        std::ifstream file{hardware_folders.front() / family};
        int found = 0;
        for (std::string line; std::getline(file, line);)
            if (line.starts_with('[') && line != "[ranges]") {
                ++found;
                CHECK_MESSAGE(line.find("generic; enter your valve's own data") != std::string::npos, line);
            }
        CHECK(found == sizes);
    }
}
