#include "scenarios/written.h"
#include "scenarios/read_scenario.h"
#include "scenarios/unit_table.h"
#include "tests/places.h"
#include "tests/relative.h"

#include <cmath>
#include <filesystem>
#include <optional>
#include <random>
#include <string>
#include <string_view>
#include <vector>

using namespace needleturn::scenarios;

namespace {

const std::filesystem::path scenarios_folder = tests::source_folder() + "/scenarios";
const std::vector<std::filesystem::path> shipped_hardware{scenarios_folder / "hardware"};

} // namespace

TEST_CASE("a quantity is written in the unit of its system in which it is short") {
    const auto si = UnitSystem::si, us = UnitSystem::us;
    const auto again = [](const char* text, Dimension dimension, UnitSystem system) {
        return written_quantity(parse_quantity(text, dimension), dimension, system);
    };
    CHECK(again("8.2 bar", Dimension::pressure, si) == "8.2 bar");
    CHECK(again("109 psi", Dimension::pressure, us) == "109 psi");
    CHECK(again("0.06 L/s", Dimension::flow, si) == "0.06 L/s");
    CHECK(again("250 gpm", Dimension::flow, us) == "250 gpm");
    CHECK(written_quantity(0.1, Dimension::length, si) == "100 mm");
    CHECK(written_quantity(40, Dimension::length, si) == "40 m");
    CHECK(written_quantity(2.75e-4, Dimension::volume, si) == "275 mL");
    CHECK(written_quantity(288.15, Dimension::temperature, si) == "15 degC");
    CHECK(written_quantity(2e11, Dimension::modulus, si) == "200 GPa");
    // A metric valve in a US station, whose inches would have sixteen digits.
    CHECK(again("69.7 cm2", Dimension::area, us) == "69.7 cm2");
    CHECK(again("45 um", Dimension::length, si) == "45 um"); // not 4.5e-05 m
    // Values that nobody typed.
    CHECK(written_quantity(0.07609 - 2 * 0.0036, Dimension::length, si).ends_with(" mm"));
    CHECK(written_quantity(380870.8596353983, Dimension::pressure, si) == "3.8087085963539833 bar");
    CHECK(written_range({"seat", Dimension::area, 26e-4, 35e-4, ""}, si) == "26..35 cm2");
}

TEST_CASE("what is written reads back to the same bits in either system") {
    const unsigned seed = 20261129;
    CAPTURE(seed);
    std::mt19937_64 random{seed};
    std::uniform_real_distribution<double> exponent{-12, 12};
    for (int i = 0; i < 2000; ++i) {
        const double si = std::pow(10, exponent(random)) * (i % 2 == 0 ? 1 : -1);
        const auto dimension = all_faces()[static_cast<std::size_t>(i) % all_faces().size()].dimension;
        for (const auto system : {UnitSystem::si, UnitSystem::us}) {
            const auto text = written_quantity(si, dimension, system);
            CHECK_MESSAGE(parse_quantity(text, dimension) == si, text);
            const auto near = rounded(si, dimension, system);
            if (dimension != Dimension::pressure && dimension != Dimension::temperature)
                CHECK(std::abs(near / si - 1) <= 5.01e-4);
            CHECK(rounded(near, dimension, system) == near);
        }
    }
}

TEST_CASE("the dimensions of a pipe are written as its standard prints them") {
    // EN 10255, DN 80: 88.9 mm outside, walls of 4 mm; ASME B36.10M, NPS 2 schedule 40: 2.375 in and 0.154 in (from memory).
    for (const auto& kind : pipe_kinds()) {
        const auto system = kind.name.starts_with("NPS") ? UnitSystem::us : UnitSystem::si;
        // An inch is 25.4 mm: three decimals of it are four of a millimetre.
        for (const double size : {kind.bore, kind.wall}) {
            const auto text = written_quantity(size, Dimension::length, system);
            CHECK_MESSAGE(text.size() <= std::string_view("122.2502 mm").size(), kind.name, ": ", text);
        }
        if (kind.name == "steel/DN80")
            CHECK(written_quantity(kind.bore, Dimension::length, system) == "80.9 mm");
        if (kind.name == "NPS 2 schedule 40")
            CHECK(written_quantity(kind.bore, Dimension::length, system) == "2.067 in");
    }
}

TEST_CASE("a rounded value is written with few digits") {
    CHECK(written_quantity(rounded(481628.69, Dimension::pressure, UnitSystem::si), Dimension::pressure,
                           UnitSystem::si)
          == "4.82 bar");
    CHECK(written_quantity(rounded(481628.69, Dimension::pressure, UnitSystem::us), Dimension::pressure,
                           UnitSystem::us)
          == "69.9 psi");
    CHECK(written_quantity(rounded(1.0 / 14 * 0.9e-3, Dimension::flow, UnitSystem::si), Dimension::flow,
                           UnitSystem::si)
          == "0.06429 L/s");
    CHECK(rounded(0, Dimension::flow, UnitSystem::si) == 0);
}

TEST_CASE("every committed scenario is written in its units and with its valves' names and reads as it was") {
    std::size_t looked_at = 0;
    for (const auto& file : std::filesystem::directory_iterator(scenarios_folder)) {
        if (file.path().extension() != ".toml")
            continue;
        std::optional<Scenario> scenario;
        try {
            scenario = read_scenario(file.path());
        } catch (const ScenarioError&) { // the plan of a sweep
            continue;
        }
        CAPTURE(file.path());
        ++looked_at;
        const auto text = written(*scenario, shipped_hardware);
        CHECK(resolved(parse_scenario(text, "again", {}, shipped_hardware)) == resolved(*scenario));
        CHECK(text.find(scenario->units == UnitSystem::us ? " psi\"" : " bar\"") != std::string::npos);
        // Where nothing is found by a name, everything is said.
        const auto alone = written(*scenario, {});
        CHECK(resolved(parse_scenario(alone, "again")) == resolved(*scenario));
    }
    CHECK(looked_at > 10);
}
