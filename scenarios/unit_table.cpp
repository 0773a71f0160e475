#include "scenarios/unit_table.h"

#include <array>
#include <cmath>
#include <numbers>

namespace needleturn::scenarios {

namespace {

// Defined values: NIST Special Publication 811 (2008), appendix B; the inch, pound, gallon and standard
// gravity are exact, and so is everything built from them.
constexpr double inch = 0.0254;
constexpr double foot = 12 * inch;
constexpr double pound = 0.45359237;
constexpr double gravity = 9.80665;
constexpr double pound_force = pound * gravity;
static_assert(psi == pound_force / (inch * inch));
constexpr double conventional_water = 1000 * gravity; // Pa per metre of head: "conventional" H2O in SP 811

} // namespace

using enum Dimension;

std::span<const Unit> all_units() {
    static const std::array table{
        Unit{pressure, "bar", 1e5},
        Unit{pressure, "mbar", 1e2},
        Unit{pressure, "Pa", 1},
        Unit{pressure, "kPa", 1e3},
        Unit{pressure, "MPa", 1e6},
        Unit{pressure, "psi", psi},
        Unit{pressure, "mH2O", conventional_water},
        Unit{pressure, "ftH2O", conventional_water * foot},
        Unit{flow, "L/s", 1, 1e3},
        Unit{flow, "L/min", 1, 60e3},
        Unit{flow, "mL/s", 1, 1e6},
        Unit{flow, "m3/h", 1, 3600},
        Unit{flow, "m3/s", 1},
        Unit{flow, "gpm", gallon, 60},
        Unit{length, "mm", 1, 1e3},
        Unit{length, "um", 1, 1e6},
        Unit{length, "cm", 1, 100},
        Unit{length, "m", 1},
        Unit{length, "km", 1000},
        Unit{length, "in", 127, 5000},
        Unit{length, "ft", 381, 1250},
        Unit{area, "cm2", 1, 1e4},
        Unit{area, "mm2", 1, 1e6},
        Unit{area, "m2", 1},
        Unit{area, "in2", inch * inch},
        Unit{volume, "mL", 1, 1e6},
        Unit{volume, "L", 1, 1e3},
        Unit{volume, "m3", 1},
        Unit{volume, "in3", inch * inch * inch},
        Unit{volume, "gal", gallon},
        Unit{time, "s", 1},
        Unit{time, "ms", 1, 1e3},
        Unit{time, "min", 60},
        Unit{time, "h", 3600},
        Unit{temperature, "degC", 1, 1, 273.15},
        Unit{temperature, "degF", 5, 9, 273.15 - 32 * 5.0 / 9},
        Unit{temperature, "K", 1},
        Unit{turns, "turns", 1},
        Unit{turns, "turn", 1},
        // IEC 60534-1: m3/h of water at 1 bar, and US gallons a minute at 1 psi.
        Unit{capacity, "Kv", 1.0 / 3600 / std::sqrt(1e5)},
        Unit{capacity, "Cv", gallon / 60 / std::sqrt(psi)},
        Unit{capacity, "m3/s/Pa^0.5", 1},
        Unit{mass, "kg", 1},
        Unit{mass, "g", 1, 1e3},
        Unit{mass, "lb", pound},
        Unit{force, "N", 1},
        Unit{force, "kN", 1e3},
        Unit{force, "lbf", pound_force},
        Unit{stiffness, "N/mm", 1e3},
        Unit{stiffness, "N/m", 1},
        Unit{stiffness, "kN/m", 1e3},
        Unit{stiffness, "lbf/in", pound_force, inch},
        Unit{damping, "N s/m", 1},
        Unit{damping, "lbf s/in", pound_force, inch},
        Unit{storage, "mL/bar", 1, 1e11},
        Unit{storage, "L/bar", 1, 1e8},
        Unit{storage, "m3/Pa", 1},
        Unit{storage, "mL/psi", 1, 1e6 * psi},
        Unit{storage, "in3/psi", inch * inch * inch, psi},
        Unit{modulus, "GPa", 1e9},
        Unit{modulus, "MPa", 1e6},
        Unit{modulus, "Pa", 1},
        Unit{modulus, "psi", psi},
        Unit{ratio, "", 1},
        Unit{ratio, "%", 1, 100},
        Unit{speed, "m/s", 1},
        Unit{speed, "ft/s", 381, 1250},
        Unit{frequency, "Hz", 1},
        Unit{density, "kg/m3", 1},
        Unit{density, "g/cm3", 1e3},
        Unit{density, "kg/L", 1e3},
        Unit{density, "lb/ft3", pound / (foot * foot * foot)},
        Unit{viscosity, "mPa s", 1, 1e3},
        Unit{viscosity, "Pa s", 1},
        Unit{viscosity, "cP", 1, 1e3},
        Unit{angle, "deg", std::numbers::pi, 180},
        Unit{angle, "rad", 1},
    };
    return table;
}

std::span<const Face> all_faces() {
    static constexpr std::array table{
        Face{pressure, "a pressure", "Pa", "Pa", {{{"bar", 2}, {"psi", 1}}}},
        Face{flow, "a flow", "m3/s", "m3 s-1", {{{"L/s", 2}, {"gpm", 1}}}},
        Face{length, "a length", "m", "m", {{{"mm", 2}, {"in", 3}}}},
        Face{area, "an area", "m2", "m2", {{{"cm2", 1}, {"in2", 2}}}},
        Face{volume, "a volume", "m3", "m3", {{{"mL", 0, 1}, {"in3", 1, 2}}}},
        Face{time, "a time", "s", "s", {{{"s", 2}, {"s", 2}}}},
        Face{temperature, "a temperature", "K", "K", {{{"degC", 1}, {"degF", 1}}}},
        Face{turns, "a number of turns", "turns", "1", {{{"turns", 2}, {"turns", 2}}}},
        Face{capacity, "a capacity", "m3/s/Pa^0.5", "m3 s-1 Pa-0.5", {{{"Kv", 2}, {"Cv", 2}}}},
        Face{mass, "a mass", "kg", "kg", {{{"kg", 2}, {"lb", 2}}}},
        Face{force, "a force", "N", "N", {{{"N", 0}, {"lbf", 1}}}},
        Face{stiffness, "a stiffness", "N/m", "N m-1", {{{"N/mm", 2}, {"lbf/in", 1}}}},
        Face{damping, "a damping", "N s/m", "N s m-1", {{{"N s/m", 0}, {"lbf s/in", 2}}}},
        Face{storage, "a storage", "m3/Pa", "m3 Pa-1", {{{"mL/bar", 1}, {"in3/psi", 3}}}},
        Face{modulus, "a modulus", "Pa", "Pa", {{{"GPa", 2}, {"psi", 0}}}},
        Face{ratio, "a ratio", "", "1", {{{"", 3, 2}, {"", 3, 2}}}},
        Face{speed, "a speed", "m/s", "m s-1", {{{"m/s", 2}, {"ft/s", 1, 2}}}},
        Face{frequency, "a frequency", "Hz", "Hz", {{{"Hz", 2}, {"Hz", 2}}}},
        Face{density, "a density", "kg/m3", "kg m-3", {{{"kg/m3", 1}, {"lb/ft3", 2}}}},
        Face{viscosity, "a viscosity", "Pa s", "Pa s", {{{"mPa s", 3}, {"cP", 3}}}},
        Face{angle, "an angle", "rad", "rad", {{{"deg", 1}, {"deg", 1}}}},
    };
    return table;
}

} // namespace needleturn::scenarios
