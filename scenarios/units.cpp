#include "scenarios/units.h"

#include "scenarios/spelling.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <optional>
#include <span>
#include <string>
#include <utility>

namespace needleturn::scenarios {

namespace {

/// SI = number x factor / divisor + offset. Two whole numbers where there are such, so that 9 L/s is 0.009
/// m3/s to the last bit and not 9 times a rounded thousandth.
struct Unit {
    Dimension dimension;
    std::string_view spelling;
    double factor = 1;
    double divisor = 1;
    double offset = 0;

    double to_si(double number) const { return number * factor / divisor + offset; }
    double from_si(double si) const { return (si - offset) * divisor / factor; }
};

// Defined values: NIST Special Publication 811 (2008), appendix B; the inch, pound, gallon and standard
// gravity are exact, and so is everything built from them.
constexpr double inch = 0.0254;
constexpr double foot = 12 * inch;
constexpr double gallon = 231 * inch * inch * inch; // US liquid
constexpr double pound = 0.45359237;
constexpr double gravity = 9.80665;
constexpr double pound_force = pound * gravity;
static_assert(psi == pound_force / (inch * inch));
constexpr double conventional_water = 1000 * gravity; // Pa per metre of head: "conventional" H2O in SP 811

using enum Dimension;

std::span<const Unit> units() {
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
    };
    return table;
}

/// What a dimension is called, the SI unit, and the units and decimals it is printed in.
struct Face {
    std::string_view name;
    std::string_view si;
    struct Display {
        std::string_view unit;
        int decimals;
    };
    std::array<Display, 2> display; ///< by UnitSystem
};

const Face& face(Dimension dimension) {
    static const std::array table{
        Face{"a pressure", "Pa", {{{"bar", 2}, {"psi", 1}}}},
        Face{"a flow", "m3/s", {{{"L/s", 2}, {"gpm", 1}}}},
        Face{"a length", "m", {{{"mm", 2}, {"in", 3}}}},
        Face{"an area", "m2", {{{"cm2", 1}, {"in2", 2}}}},
        Face{"a volume", "m3", {{{"mL", 0}, {"in3", 1}}}},
        Face{"a time", "s", {{{"s", 2}, {"s", 2}}}},
        Face{"a temperature", "K", {{{"degC", 1}, {"degF", 1}}}},
        Face{"a number of turns", "turns", {{{"turns", 2}, {"turns", 2}}}},
        Face{"a capacity", "m3/s/Pa^0.5", {{{"Kv", 2}, {"Cv", 2}}}},
        Face{"a mass", "kg", {{{"kg", 2}, {"lb", 2}}}},
        Face{"a force", "N", {{{"N", 0}, {"lbf", 1}}}},
        Face{"a stiffness", "N/m", {{{"N/mm", 2}, {"lbf/in", 1}}}},
        Face{"a damping", "N s/m", {{{"N s/m", 0}, {"lbf s/in", 2}}}},
        Face{"a storage", "m3/Pa", {{{"mL/bar", 1}, {"in3/psi", 3}}}},
        Face{"a modulus", "Pa", {{{"GPa", 2}, {"psi", 0}}}},
        Face{"a ratio", "", {{{"", 3}, {"", 3}}}},
        Face{"a speed", "m/s", {{{"m/s", 2}, {"ft/s", 1}}}},
        Face{"a frequency", "Hz", {{{"Hz", 2}, {"Hz", 2}}}},
    };
    return table.at(static_cast<std::size_t>(dimension));
}

const Face::Display& display(Dimension dimension, UnitSystem system) {
    return face(dimension).display.at(static_cast<std::size_t>(system));
}

/// For one value: air in a cover is some millilitres, a cavity in a main may be a cubic metre.
Face::Display display_of(double si, Dimension dimension, UnitSystem system) {
    if (dimension == volume && system == UnitSystem::si && std::abs(si) >= 1e-3)
        return {"L", 2};
    if (dimension == volume && system == UnitSystem::us && std::abs(si) >= gallon)
        return {"gal", 2};
    return display(dimension, system);
}

std::optional<Unit> find(std::string_view spelling, Dimension dimension) {
    for (const auto& unit : units())
        if (unit.spelling == spelling && unit.dimension == dimension)
            return unit;
    return {};
}

std::optional<Dimension> dimension_of(std::string_view spelling) {
    for (const auto& unit : units())
        if (unit.spelling == spelling)
            return unit.dimension;
    return {};
}

std::string listed(Dimension dimension) {
    return fmt::format("{}", fmt::join(allowed_units(dimension), ", "));
}

/// Of spellings that are not read, and stand for no other dimension's unit either.
std::string unknown_unit(std::string_view spelling, Dimension dimension) {
    if (dimension == pressure || dimension == modulus)
        for (const auto& [absolute, gauge] :
             {std::pair{"psia", "psi"}, {"bara", "bar"}, {"bar(a)", "bar"}, {"kPaa", "kPa"}})
            if (spelling == absolute)
                return fmt::format(
                    "unknown unit {}: pressures are above that of the air; write the gauge pressure in {}",
                    spelling, gauge);
    auto meant = probable_unit(spelling);
    const auto same_letters = [](char a, char b) { return std::tolower(a) == std::tolower(b); };
    for (const auto& unit : units())
        if (unit.dimension == dimension && meant.empty()
            && std::equal(unit.spelling.begin(), unit.spelling.end(), spelling.begin(), spelling.end(),
                          same_letters))
            meant = unit.spelling;
    if (find(meant, dimension) && !meant.empty())
        return fmt::format("unknown unit {}; write {}", spelling, meant);
    constexpr std::size_t longest = 40; // characters of what is no unit
    return fmt::format("unknown unit {}{}; {} is wanted: {}", spelling.substr(0, longest),
                       spelling.size() > longest ? "..." : "", dimension_name(dimension), listed(dimension));
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_space(char c) { return c == ' ' || c == '\t'; }

void skip_spaces(std::string_view& text) {
    while (!text.empty() && is_space(text.front()))
        text.remove_prefix(1);
}

std::string_view trimmed(std::string_view text) {
    skip_spaces(text);
    while (!text.empty() && is_space(text.back()))
        text.remove_suffix(1);
    return text;
}

/// Takes leading digits off the text; empty when there are none.
std::string_view take_digits(std::string_view& text) {
    const auto digits = text.substr(
        0, static_cast<std::size_t>(std::find_if_not(text.begin(), text.end(), is_digit) - text.begin()));
    text.remove_prefix(digits.size());
    return digits;
}

double whole(std::string_view digits) {
    double value = 0;
    std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return value;
}

/// "/4" -> the denominator, or nothing and the text untouched.
std::optional<double> take_denominator(std::string_view& text) {
    if (text.empty() || text.front() != '/')
        return {};
    auto rest = text.substr(1);
    const auto digits = take_digits(rest);
    if (digits.empty())
        return {};
    text = rest;
    if (whole(digits) == 0)
        throw UnitError("a fraction over zero");
    return whole(digits);
}

/// Takes an unsigned number off the text: 8.6, 1e-3, 3/4 or 1 1/2.
double take_number(std::string_view& text) {
    auto rest = text;
    const auto digits = take_digits(rest);
    if (!digits.empty()) {
        if (const auto denominator = take_denominator(rest)) {
            text = rest;
            return whole(digits) / *denominator;
        }
        if (!rest.empty() && is_space(rest.front())) {
            auto fraction = rest;
            skip_spaces(fraction);
            const auto numerator = take_digits(fraction);
            if (!numerator.empty())
                if (const auto denominator = take_denominator(fraction)) {
                    text = fraction;
                    return whole(digits) + whole(numerator) / *denominator;
                }
        }
    }
    // from_chars also reads "inf" and "nan", which are no measurements.
    if (text.empty() || !(is_digit(text.front()) || text.front() == '.'))
        throw UnitError("not a number");
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error == std::errc::result_out_of_range)
        throw UnitError("a number too large or too small");
    if (error != std::errc{})
        throw UnitError("not a number");
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    if (!text.empty() && text.front() == ',')
        throw UnitError(
            "a comma in the number; write a decimal point, as in 1.5, and no thousands separators");
    return value;
}

} // namespace

double parse_quantity(std::string_view text, Dimension dimension) {
    const auto plain = plain_quantity(text);
    auto rest = trimmed(plain);
    const bool negative = !rest.empty() && rest.front() == '-';
    if (!rest.empty() && (rest.front() == '-' || rest.front() == '+'))
        rest.remove_prefix(1);
    const auto number_begins = rest;
    double number = 0;
    try {
        number = take_number(rest);
    } catch (const UnitError& error) {
        throw UnitError(std::string_view{error.what()} == "not a number" ? fmt::format(
                            "not {}; write a number and a unit, e.g. \"3{}{}\"", dimension_name(dimension),
                            dimension == ratio ? "" : " ", display_unit(dimension, UnitSystem::si))
                                                                         : std::string{error.what()});
    }
    const auto digits = number_begins.substr(0, number_begins.size() - rest.size());
    const auto spelling = same_unit(trimmed(rest));
    const auto unit = find(spelling, dimension);
    if (!unit) {
        if (spelling.empty())
            throw UnitError(fmt::format("missing unit; write {}, e.g. \"{}{} {}\"", listed(dimension),
                                        negative ? "-" : "", trimmed(digits),
                                        display_unit(dimension, UnitSystem::si)));
        if (const auto other = dimension_of(spelling))
            throw UnitError(fmt::format("{} is {}; {} is wanted: {}", spelling, dimension_name(*other),
                                        dimension_name(dimension), listed(dimension)));
        throw UnitError(unknown_unit(spelling, dimension));
    }
    const double si = unit->to_si(negative ? -number : number);
    if (!std::isfinite(si))
        throw UnitError("a number too large");
    return si;
}

std::string_view dimension_name(Dimension dimension) { return face(dimension).name; }

std::vector<std::string_view> allowed_units(Dimension dimension) {
    std::vector<std::string_view> spellings;
    for (const auto& unit : units())
        if (unit.dimension == dimension && !unit.spelling.empty())
            spellings.push_back(unit.spelling);
    return spellings;
}

std::string_view display_unit(Dimension dimension, UnitSystem system) {
    return display(dimension, system).unit;
}

double in_display_unit(double si, Dimension dimension, UnitSystem system) {
    return find(display_unit(dimension, system), dimension).value().from_si(si);
}

std::string format_quantity(double si, Dimension dimension, UnitSystem system) {
    const auto [unit, usual_decimals] = display_of(si, dimension, system);
    double value = find(unit, dimension).value().from_si(si);
    int decimals = usual_decimals;
    // Small values keep two digits, down to a tenth of the last usual digit; below that they are noise.
    if (std::abs(value) < std::pow(10.0, -usual_decimals - 1))
        value = 0; // also turns -0 into 0
    else if (std::isfinite(value))
        decimals = std::max(decimals, 1 - static_cast<int>(std::floor(std::log10(std::abs(value)))));
    return fmt::format("{:.{}f}{}{}", value, decimals, unit.empty() ? "" : " ", unit);
}

std::string exact_quantity(double si, Dimension dimension) {
    const auto unit = face(dimension).si;
    return fmt::format("{}{}{}", si, unit.empty() ? "" : " ", unit);
}

} // namespace needleturn::scenarios
