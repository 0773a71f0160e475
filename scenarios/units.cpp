#include "scenarios/units.h"

#include "scenarios/spelling.h"
#include "scenarios/unit_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>
#include <optional>
#include <string>
#include <utility>

namespace needleturn::scenarios {

namespace {

/// Of results too small or too large for the usual unit: air in a cover is some millilitres, a cavity in a main may be a cubic
/// metre.
Display display_of(double si, Dimension dimension, UnitSystem system) {
    if (dimension == Dimension::volume && system == UnitSystem::si && std::abs(si) >= 1e-3)
        return {"L", 2};
    if (dimension == Dimension::volume && system == UnitSystem::us && std::abs(si) >= gallon)
        return {"gal", 2};
    return face_of(dimension).in(system);
}

std::string spelt(double value, int decimals, std::string_view unit) {
    return fmt::format("{:.{}f}{}{}", value, decimals, unit.empty() ? "" : " ", unit);
}

std::optional<Unit> find(std::string_view spelling, Dimension dimension) {
    for (const auto& unit : all_units())
        if (unit.spelling == spelling && unit.dimension == dimension)
            return unit;
    return {};
}

std::optional<Dimension> dimension_of(std::string_view spelling) {
    for (const auto& unit : all_units())
        if (unit.spelling == spelling)
            return unit.dimension;
    return {};
}

std::string listed(Dimension dimension) {
    return fmt::format("{}", fmt::join(allowed_units(dimension), ", "));
}

/// Of spellings that are not read, and stand for no other dimension's unit either.
std::string unknown_unit(std::string_view spelling, Dimension dimension) {
    if (dimension == Dimension::pressure || dimension == Dimension::modulus)
        for (const auto& [absolute, gauge] :
             {std::pair{"psia", "psi"}, {"bara", "bar"}, {"bar(a)", "bar"}, {"kPaa", "kPa"}})
            if (spelling == absolute)
                return fmt::format(
                    "unknown unit {}: pressures are above that of the air; write the gauge pressure in {}",
                    spelling, gauge);
    auto meant = probable_unit(spelling);
    const auto same_letters = [](char a, char b) { return std::tolower(a) == std::tolower(b); };
    for (const auto& unit : all_units())
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
                            dimension == Dimension::ratio ? "" : " ", display_unit(dimension, UnitSystem::si))
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

std::string_view unit_behind(std::string_view text) {
    text = trimmed(text);
    if (!text.empty() && (text.front() == '-' || text.front() == '+'))
        text.remove_prefix(1);
    take_number(text);
    return trimmed(text);
}

std::string_view dimension_name(Dimension dimension) { return face_of(dimension).name; }

std::vector<std::string_view> allowed_units(Dimension dimension) {
    std::vector<std::string_view> spellings;
    for (const auto& unit : all_units())
        if (unit.dimension == dimension && !unit.spelling.empty())
            spellings.push_back(unit.spelling);
    return spellings;
}

std::string_view display_unit(Dimension dimension, UnitSystem system) {
    return face_of(dimension).in(system).unit;
}

double in_display_unit(double si, Dimension dimension, UnitSystem system) {
    return find(display_unit(dimension, system), dimension).value().from_si(si);
}

std::string format_quantity(double si, Dimension dimension, UnitSystem system) {
    const auto shown = display_of(si, dimension, system);
    double value = find(shown.unit, dimension).value().from_si(si);
    int decimals = shown.decimals;
    // Small values keep two digits, down to a tenth of the last usual digit; below that they are noise.
    if (std::abs(value) < std::pow(10.0, -shown.decimals - 1))
        value = 0; // also turns -0 into 0
    else if (std::isfinite(value))
        decimals = std::max(decimals, 1 - static_cast<int>(std::floor(std::log10(std::abs(value)))));
    // Hands count in eighths of a turn: 1/8 is not 0.12.
    if (dimension == Dimension::turns && std::fmod(std::abs(value) * 8, 2) == 1)
        decimals = std::max(decimals, 3);
    return spelt(value, decimals, shown.unit);
}

std::string_view distance_unit(UnitSystem system) { return distance.in(system).unit; }

std::string format_distance(double metres, UnitSystem system) {
    const auto& shown = distance.in(system);
    return spelt(find(shown.unit, Dimension::length).value().from_si(metres), shown.decimals, shown.unit);
}

std::string_view udunits(Dimension dimension) { return face_of(dimension).udunits; }

std::optional<Dimension> dimension_of_udunits(std::string_view unit) {
    const auto all = all_faces();
    const auto found = std::ranges::find(all, unit, &Face::udunits);
    if (found == all.end() || unit == "1")
        return {};
    return found->dimension;
}

std::string exact_quantity(double si, Dimension dimension) {
    const auto unit = face_of(dimension).si;
    return fmt::format("{}{}{}", si, unit.empty() ? "" : " ", unit);
}

} // namespace needleturn::scenarios
