/// Units: published factors, spellings, refusals.
#include "scenarios/unit_table.h"
#include "tests/relative.h"

#include <cmath>
#include <random>
#include <string>

using namespace needleturn::scenarios;
using needleturn::tests::relative;

namespace {

std::string refusal(std::string_view text, Dimension dimension) {
    try {
        parse_quantity(text, dimension);
    } catch (const UnitError& error) {
        return error.what();
    }
    return {};
}

} // namespace

TEST_CASE("units agree with the published conversion factors") {
    // NIST Special Publication 811 (2008), appendix B.8, given there to 7 digits: hence 1e-6. From memory
    // (M).
    CHECK(parse_quantity("1 psi", Dimension::pressure) == relative(6.894757e3, 1e-6));
    CHECK(parse_quantity("1 ftH2O", Dimension::pressure) == relative(2.989067e3, 1e-6));
    CHECK(parse_quantity("1 mH2O", Dimension::pressure) == relative(9.80665e3, 1e-6));
    CHECK(parse_quantity("1 gpm", Dimension::flow) == relative(6.309020e-5, 1e-6));
    CHECK(parse_quantity("1 m3/h", Dimension::flow) == relative(2.777778e-4, 1e-6));
    CHECK(parse_quantity("1 L/min", Dimension::flow) == relative(1.666667e-5, 1e-6));
    CHECK(parse_quantity("1 in", Dimension::length) == 2.54e-2);
    CHECK(parse_quantity("1 ft", Dimension::length) == 3.048e-1);
    CHECK(parse_quantity("1 in2", Dimension::area) == relative(6.4516e-4, 1e-6));
    CHECK(parse_quantity("1 in3", Dimension::volume) == relative(1.638706e-5, 1e-6));
    CHECK(parse_quantity("1 gal", Dimension::volume) == relative(3.785412e-3, 1e-6));
    CHECK(parse_quantity("1 lb", Dimension::mass) == relative(4.535924e-1, 1e-6));
    CHECK(parse_quantity("1 lbf", Dimension::force) == relative(4.448222, 1e-6));
    CHECK(parse_quantity("1 lbf/in", Dimension::stiffness) == relative(1.751268e2, 1e-6));
    CHECK(parse_quantity("1 lbf s/in", Dimension::damping) == relative(1.751268e2, 1e-6));
    CHECK(parse_quantity("1 in3/psi", Dimension::storage) == relative(1.638706e-5 / 6.894757e3, 1e-6));
    // t/K = (t/degF + 459.67) / 1.8, exact; a few roundings at 300 K.
    CHECK(parse_quantity("54 degF", Dimension::temperature) == relative((54 + 459.67) / 1.8, 1e-15));
    CHECK(parse_quantity("-40 degF", Dimension::temperature)
          == relative(parse_quantity("-40 degC", Dimension::temperature), 1e-15));
}

TEST_CASE("the ratio of Kv to Cv is that of IEC 60534") {
    // IEC 60534-1: Kv = 0.865 Cv, three digits.
    CHECK(parse_quantity("1 Cv", Dimension::capacity) / parse_quantity("1 Kv", Dimension::capacity)
          == relative(0.865, 0.0005 / 0.865));
    // Definition of Kv: 1 m3/h at 1 bar.
    CHECK(parse_quantity("1 Kv", Dimension::capacity) * std::sqrt(1e5)
          == relative(parse_quantity("1 m3/h", Dimension::flow), 1e-15)); // two roundings
}

TEST_CASE("decimal units convert to the nearest double") {
    CHECK(parse_quantity("9 L/s", Dimension::flow) == 0.009);
    CHECK(parse_quantity("20 mL", Dimension::volume) == 2e-5);
    CHECK(parse_quantity("3 in", Dimension::length) == 0.0762);
    CHECK(parse_quantity("0.1 mL/bar", Dimension::storage) == 1e-12);
    CHECK(parse_quantity("12 %", Dimension::ratio) == 0.12);
}

TEST_CASE("turns and inches may be fractions, as the trade writes them") {
    CHECK(parse_quantity("1/2 turn", Dimension::turns) == 0.5);
    CHECK(parse_quantity("1 1/2 turns", Dimension::turns) == 1.5);
    CHECK(parse_quantity("-1 1/4 turns", Dimension::turns) == -1.25);
    CHECK(parse_quantity("3/4 in", Dimension::length) == relative(0.01905, 1e-15));
    CHECK(parse_quantity("10  3/8 in", Dimension::length) == relative(0.263525, 1e-15));
}

TEST_CASE("numbers may have signs, exponents and no space before the unit") {
    CHECK(parse_quantity("  +8.6bar ", Dimension::pressure) == relative(8.6e5, 1e-15));
    CHECK(parse_quantity("1e-3 m3/s", Dimension::flow) == 1e-3);
    CHECK(parse_quantity(".5 bar", Dimension::pressure) == 5e4);
    CHECK(parse_quantity("1E+2 kPa", Dimension::pressure) == 1e5);
    CHECK(parse_quantity("0.25", Dimension::ratio) == 0.25);
}

TEST_CASE("a quantity that is none is refused in one clear line") {
    CHECK(refusal("3", Dimension::turns) == "missing unit; write turns, turn, e.g. \"3 turns\"");
    CHECK(refusal("-1 1/2", Dimension::turns) == "missing unit; write turns, turn, e.g. \"-1 1/2 turns\"");
    CHECK(refusal("9 L/s", Dimension::pressure)
          == "L/s is a flow; a pressure is wanted: bar, mbar, Pa, kPa, MPa, psi, mH2O, ftH2O");
    CHECK(refusal("3 bars", Dimension::pressure) == "unknown unit bars; write bar");
    CHECK(refusal("3 at", Dimension::pressure)
          == "unknown unit at; a pressure is wanted: bar, mbar, Pa, kPa, MPa, psi, mH2O, ftH2O");
    CHECK(refusal("1,5 bar", Dimension::pressure)
          == "a comma in the number; write a decimal point, as in 1.5, and no thousands separators");
    CHECK(refusal("1/0 turns", Dimension::turns) == "a fraction over zero");
    for (const auto* text :
         {"", " ", "bar", "nan bar", "inf bar", "-inf bar", "NaN", "--3 bar", "- 3 bar", "e5 bar"})
        CHECK_MESSAGE(refusal(text, Dimension::pressure)
                          == "not a pressure; write a number and a unit, e.g. \"3 bar\"",
                      text);
    for (const auto* text : {"3 bar 4", "3 4 bar", "3 bar;", "0x10 bar", "1/2/3 bar", "1 500 psi", "3 BAR",
                             "1.5/2 bar", "1 1.5/2 bar", "3 psia"})
        CHECK_MESSAGE(refusal(text, Dimension::pressure).starts_with("unknown unit "), text);
    for (const auto* text : {"1e400 bar", "1e-400 bar", "1e308 bar"})
        CHECK_MESSAGE(refusal(text, Dimension::pressure).starts_with("a number too large"), text);
}

TEST_CASE("units spelt as people do are read where they mean the same") {
    CHECK(parse_quantity("125 psig", Dimension::pressure) == parse_quantity("125 psi", Dimension::pressure));
    CHECK(parse_quantity("8.6 barg", Dimension::pressure) == parse_quantity("8.6 bar", Dimension::pressure));
    CHECK(parse_quantity("8.6 bar(g)", Dimension::pressure)
          == parse_quantity("8.6 bar", Dimension::pressure));
    CHECK(parse_quantity("9 l/s", Dimension::flow) == 0.009);
    CHECK(parse_quantity("3.6 m³/h", Dimension::flow) == 0.001);
    CHECK(parse_quantity("120 ml", Dimension::volume) == parse_quantity("120 mL", Dimension::volume));
    CHECK(parse_quantity("7 cm²", Dimension::area) == parse_quantity("7 cm2", Dimension::area));
    CHECK(parse_quantity("30 µm", Dimension::length) == parse_quantity("30 um", Dimension::length));
    CHECK(parse_quantity("−5 °C", Dimension::temperature)
          == parse_quantity("-5 degC", Dimension::temperature));
    CHECK(parse_quantity("54 deg F", Dimension::temperature)
          == parse_quantity("54 degF", Dimension::temperature));
    CHECK(parse_quantity("60 N·s/m", Dimension::damping) == 60);
    CHECK(parse_quantity("½ turn", Dimension::turns) == 0.5);
    CHECK(parse_quantity("1½ turns", Dimension::turns) == 1.5);
    CHECK(parse_quantity("−1 ¼ turns", Dimension::turns) == -1.25);
    CHECK(parse_quantity("⅛turn", Dimension::turns) == 0.125);
    CHECK(parse_quantity("1⁄2 turn", Dimension::turns) == 0.5);
    CHECK(parse_quantity("¾″", Dimension::length) == parse_quantity("3/4 in", Dimension::length));
    CHECK(refusal("9 l/s", Dimension::pressure).starts_with("L/s is a flow; a pressure is wanted: "));
}

TEST_CASE("units spelt otherwise are answered with what to write") {
    const auto says = [](const char* text, Dimension dimension, const char* unit) {
        const auto said = refusal(text, dimension);
        CHECK_MESSAGE(said.ends_with(std::string("; write ") + unit), said);
    };
    says("8 BAR", Dimension::pressure, "bar");
    says("80 PSI", Dimension::pressure, "psi");
    says("140 USgpm", Dimension::flow, "gpm");
    says("3 m3/hr", Dimension::flow, "m3/h");
    says("9 lps", Dimension::flow, "L/s");
    says("3 inches", Dimension::length, "in");
    says("3/4\"", Dimension::length, "in");
    says("5 sec", Dimension::time, "s");
    says("15 C", Dimension::temperature, "degC");
    says("2 revs", Dimension::turns, "turns");
    says("12 cv", Dimension::capacity, "Cv");
    CHECK(refusal("100 psia", Dimension::pressure)
          == "unknown unit psia: pressures are above that of the air; write the gauge pressure in psi");
}

TEST_CASE("a fraction in one character is a fraction by itself") {
    for (const auto* text : {"½5 turns", "½/3 turns", "1.5½ turns", "½½ turns", "1/½ turns", "5 ½5 turns"})
        CHECK_MESSAGE(!refusal(text, Dimension::turns).empty(), text);
}

TEST_CASE("every dimension accepts the units it lists and prints one of them") {
    for (const auto& face : all_faces()) {
        const auto dimension = face.dimension;
        for (const auto unit : allowed_units(dimension))
            CHECK_MESSAGE(refusal("3 " + std::string{unit}, dimension).empty(), unit);
        for (const auto system : {UnitSystem::si, UnitSystem::us}) {
            const auto printed = format_quantity(300, dimension, system);
            CHECK_MESSAGE(refusal(printed, dimension).empty(), printed);
        }
    }
}

TEST_CASE("the exact spelling reads back to the same bits") {
    const unsigned seed = 20250211;
    CAPTURE(seed);
    std::mt19937_64 random{seed};
    std::uniform_real_distribution<double> exponent{-20, 20};
    for (int i = 0; i < 1000; ++i) {
        const double si = std::pow(10, exponent(random)) * (i % 2 == 0 ? 1 : -1);
        const auto dimension = all_faces()[static_cast<std::size_t>(i) % all_faces().size()].dimension;
        const auto text = exact_quantity(si, dimension);
        CHECK_MESSAGE(parse_quantity(text, dimension) == si, text);
    }
}

TEST_CASE("printed quantities have the digits a gauge shows") {
    CHECK(format_quantity(4.14e5, Dimension::pressure, UnitSystem::si) == "4.14 bar");
    CHECK(format_quantity(4.14e5, Dimension::pressure, UnitSystem::us) == "60.0 psi");
    CHECK(format_quantity(9e-3, Dimension::flow, UnitSystem::si) == "9.00 L/s");
    CHECK(format_quantity(9e-3, Dimension::flow, UnitSystem::us) == "142.7 gpm");
    CHECK(format_quantity(0.125, Dimension::turns, UnitSystem::si) == "0.125 turns");
    CHECK(format_quantity(1.625, Dimension::turns, UnitSystem::us) == "1.625 turns");
    CHECK(format_quantity(0.25, Dimension::turns, UnitSystem::si) == "0.25 turns");
    CHECK(format_quantity(1.62, Dimension::turns, UnitSystem::si) == "1.62 turns");
    CHECK(format_quantity(430, Dimension::pressure, UnitSystem::si)
          == "0.0043 bar"); // two digits of a small one
    CHECK(format_quantity(1.4, Dimension::pressure, UnitSystem::si) == "0.00 bar"); // no gauge shows 14 ubar
    CHECK(format_quantity(-1e-4, Dimension::pressure, UnitSystem::si) == "0.00 bar"); // no minus nothing
    CHECK(format_quantity(1.2e-4, Dimension::volume, UnitSystem::si) == "120 mL");
    CHECK(format_quantity(1.2314, Dimension::volume, UnitSystem::si) == "1231.40 L");
    CHECK(format_quantity(1.2e-4, Dimension::volume, UnitSystem::us) == "7.3 in3");
    CHECK(format_quantity(0.011356, Dimension::volume, UnitSystem::us) == "3.00 gal");
    CHECK(format_quantity(0.5, Dimension::ratio, UnitSystem::us) == "0.500");
    CHECK(format_quantity(2, Dimension::speed, UnitSystem::us) == "6.6 ft/s");
    CHECK(in_display_unit(285.15, Dimension::temperature, UnitSystem::us)
          == relative(53.6, 1e-13)); // of 285 K
}
