/// The resolved scenario: complete, alone sufficient, and the same to the last bit.
#include "scenarios/static_setting.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

using namespace needleturn::scenarios;
using namespace needleturn::tests;

TEST_CASE("a resolved scenario reads back to the same bits without any hardware file") {
    const std::vector<std::vector<const char*>> variants{
        {},
        {"units=US", "water.temperature=54 degF", "supply.pressure=123.4 psi"},
        {"demand={ kind = \"draw\", start = \"3 gpm\" }"},
        {"main.hardware=pilot-operated/DN200", "main.air_in_cover=0 mL", "downstream.air_pocket=0 mL"},
        {"main.override.main_valve.trim={ shape = \"v-port\", exponent = 2 }"},
        {"main.override.main_valve.trim={ shape = \"contoured\", rangeability = 50 }"},
        {"main.override.main_valve.trim={ shape = \"table\", lift = [0, 0.1, 1], capacity = [0, "
         "0.3333333333333333, 1] }"},
        {"title=7\" pipe, \\ and \"quotes\"", "question=\"two\\nlines, \\u00fcber\\u0001\""},
        {"adjust.steps=[]", "demand.steps=[]", "supply.steps=[]"},
        {"accept={}"},
    };
    for (const auto& changes : variants) {
        std::vector<Override> overrides;
        for (const auto* change : changes)
            overrides.push_back({change});
        const auto scenario = read_scenario(nursery_file, overrides, hardware_folders);
        const auto text = resolved(scenario);
        CAPTURE(text);
        const auto again = parse_scenario(text, "resolved");
        CHECK(again == scenario);
        CHECK(resolved(again) == text);
    }
}

TEST_CASE("defaults are those the header promises") {
    const auto scenario = parse_scenario(R"(
        title = "The least a scenario needs"
        [supply]
        pressure = "7 bar"
        pipe = { length = "30 m", bore = "100 mm" }
        [[stage]]
        hardware = "pilot-operated/DN100"
        set_pressure = "60 psi"
        opening_control = "3 turns"
        closing_control = "6 turns"
        [downstream]
        pipe = { length = "40 m", bore = "100 mm" }
        [demand]
        start = "5 L/s"
        [run]
        duration = "10 s"
    )",
                                         "least.toml", {}, hardware_folders);
    CHECK(scenario.question == "");
    CHECK(scenario.units == UnitSystem::si);
    CHECK(scenario.water.temperature == 288.15);
    CHECK(scenario.supply.storage == 0);
    CHECK(scenario.supply.pipe.material == "steel");
    CHECK(scenario.supply.pipe.modulus == 200e9);
    CHECK(scenario.supply.pipe.roughness == 0.045e-3);
    CHECK(scenario.supply.pipe.rise == 0);
    CHECK_FALSE(scenario.supply.pipe.wall.has_value());
    CHECK_FALSE(scenario.supply.pipe.friction_factor.has_value());
    CHECK_FALSE(scenario.supply.pipe.cells.has_value());
    CHECK(scenario.stages.at(0).name == "main");
    CHECK(scenario.stages.at(0).air_in_cover == TrappedAir{});
    CHECK(scenario.downstream.air_pocket == TrappedAir{});
    CHECK(scenario.demand.kind == Demand::Kind::outlet);
    CHECK(scenario.demand.at_pressure == scenario.stages.at(0).set_pressure);
    CHECK(scenario.adjustments.empty());
    CHECK(scenario.accept == Accept{});
    CHECK(scenario.accept.settling_band == 4e3);
    CHECK(scenario.run.sample_interval == 1e-3);
    CHECK(scenario.run.tolerance == 1e-5);
}

TEST_CASE("overrides replace what the file says") {
    const auto scenario =
        nursery({"main.opening_control=1 1/2 turns", "main.closing_control=\"0.5 turns\"",
                 "demand.steps.2.to=5 gpm", "run.tolerance=1e-7", "downstream.pipe.cells=16",
                 "main.override.pilot.capacity=0.7 Cv", "main.air_in_cover=0 mL", "stage.name=east",
                 "adjust.steps.1.stage=east", "as_found={}", "as_left={}"});
    CHECK(scenario.stages.at(0).opening_control == 1.5);
    CHECK(scenario.stages.at(0).closing_control == 0.5);
    CHECK(scenario.demand.steps.at(1).to == parse_quantity("5 gpm", Dimension::flow));
    CHECK(scenario.run.tolerance == 1e-7);
    CHECK(scenario.downstream.pipe.cells == 16);
    CHECK(scenario.stages.at(0).pilot_operated()->pilot.capacity
          == parse_quantity("0.7 Cv", Dimension::capacity));
    CHECK(scenario.stages.at(0).pilot_operated()->main_valve.stem_friction
          == 5); // the file's own override stays
    CHECK(scenario.stages.at(0).name == "east");
    CHECK(scenario.stages.at(0).air_in_cover == TrappedAir{});
}

TEST_CASE("the adjusting screw sets the pressure by the pilot's pressure per turn") {
    const auto scenario =
        nursery({"main.adjusting_screw=4 turns", "main.override.pilot.pressure_per_turn=1.2 bar"});
    // The nursery's pilot has a seat that is not balanced (tests/scenarios/stem_pressures.cpp).
    const auto shut_at = [&](double spring) {
        return set_by_spring(scenario.stages.at(0), spring, scenario.supply.pressure);
    };
    CHECK(scenario.stages.at(0).set_pressure == relative(shut_at(4.8e5), 1e-15));
    // The third hand movement of the nursery: 5 turns.
    CHECK(scenario.adjustments.at(2).what == Control::set_pressure);
    CHECK(scenario.adjustments.at(2).to == relative(shut_at(6e5), 1e-15));
}
