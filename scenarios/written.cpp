#include "scenarios/written.h"

#include "scenarios/unit_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <optional>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

namespace {

/// The shortest number of these units that is the value again; none: every one rounds it.
std::optional<std::string> number_of(double si, const Unit& unit) {
    for (int digits = 1; digits <= std::numeric_limits<double>::max_digits10; ++digits) {
        const auto text = fmt::format("{:.{}g}", unit.from_si(si), digits);
        double number = 0;
        std::from_chars(text.data(), text.data() + text.size(), number);
        if (unit.to_si(number) == si)
            return fmt::format("{}", number); // 250, where so few digits are 2.5e+02
    }
    return {};
}

/// Those of a dimension in which the system is told, then all others.
struct Choice {
    std::vector<Unit> own, others;
};

Choice units_of(Dimension dimension, UnitSystem system) {
    std::vector<std::string_view> told{face_of(dimension).in(system).unit};
    if (dimension == Dimension::length)
        told.push_back(distance.in(system).unit);
    if (dimension == Dimension::volume)
        told.emplace_back(system == UnitSystem::si ? "L" : "gal");
    Choice choice;
    for (const auto& unit : all_units())
        if (unit.dimension == dimension)
            (std::ranges::count(told, unit.spelling) > 0 ? choice.own : choice.others).push_back(unit);
    return choice;
}

/// The shortest of what `spell` (Unit -> optional text without the unit) makes of the units; none: of no unit.
template <class Spell>
std::optional<std::string> shortest(const std::vector<Unit>& units, const Spell& spell) {
    std::optional<std::string> best;
    std::size_t length = 0;
    for (const auto& unit : units)
        if (const auto number = spell(unit); number && (!best || number->size() < length)) {
            length = number->size();
            best = unit.spelling.empty() ? *number : fmt::format("{} {}", *number, unit.spelling);
        }
    return best;
}

/// In a unit of the system; in another one where only that has a number of at most `longest` characters, none
/// of them an exponent.
template <class Spell> std::string spelt(Dimension dimension, UnitSystem system, std::size_t longest,
                                         const Spell& spell, const std::string& exact) {
    const auto [own, others] = units_of(dimension, system);
    const auto short_one = [&](const Unit& unit) {
        auto number = spell(unit);
        const bool easy = number && number->size() <= longest && number->find('e') == std::string::npos;
        return easy ? number : std::nullopt;
    };
    for (const auto* units : {&own, &others})
        if (const auto text = shortest(*units, short_one))
            return *text;
    return shortest(own, spell).value_or(exact);
}

constexpr std::size_t longest_number = 8;

} // namespace

std::string written_quantity(double si, Dimension dimension, UnitSystem system) {
    auto exact = exact_quantity(si, dimension);
    if (dimension == Dimension::ratio || !std::isfinite(si))
        return exact;
    return spelt(
        dimension, system, longest_number, [&](const Unit& unit) { return number_of(si, unit); }, exact);
}

std::string written_range(const HardwareRange& range, UnitSystem system) {
    if (range.dimension == Dimension::ratio)
        return exact_range(range);
    const auto both = [&](const Unit& unit) -> std::optional<std::string> {
        const auto low = number_of(range.low, unit), high = number_of(range.high, unit);
        return low && high ? std::optional(fmt::format("{}..{}", *low, *high)) : std::nullopt;
    };
    return spelt(range.dimension, system, 2 * longest_number, both, exact_range(range));
}

double rounded(double si, Dimension dimension, UnitSystem system) {
    constexpr int significant = 4;
    const double number = in_display_unit(si, dimension, system);
    if (number == 0 || !std::isfinite(number))
        return si;
    const int decimals = dimension == Dimension::pressure
                             ? face_of(dimension).in(system).decimals
                             : significant - 1 - static_cast<int>(std::floor(std::log10(std::abs(number))));
    const double scale = std::pow(10, decimals);
    // Read again: a number times a power of ten is not yet the nearest to its decimals.
    return parse_quantity(fmt::format("{:.{}f} {}", std::round(number * scale) / scale, std::max(decimals, 0),
                                      display_unit(dimension, system)),
                          dimension);
}

} // namespace needleturn::scenarios
