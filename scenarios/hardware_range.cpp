#include "scenarios/hardware_range.h"

#include "scenarios/spelling.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace needleturn::scenarios {

namespace {

constexpr std::string_view plus_minus = "+-", by_factor = "x/", to = "..";

/// A text in two at `mark`, which is where `at` says.
struct Halves {
    std::string_view before, after;
};

std::optional<Halves> apart(std::string_view text, std::string_view mark) {
    const auto at = text.find(mark);
    if (at == std::string_view::npos)
        return {};
    return Halves{trimmed(text.substr(0, at)), trimmed(text.substr(at + mark.size()))};
}

/// A quantity that may leave its unit to another one behind it: "78.5" of "78.5 +- 5 cm2", "85" of "85..95 %".
double with_unit_of(std::string_view text, std::string_view other, Dimension dimension) {
    const auto unit = unit_behind(other);
    return parse_quantity(unit_behind(text).empty() && !unit.empty() ? fmt::format("{} {}", text, unit)
                                                                     : std::string{text},
                          dimension);
}

RangedValue plus_or_minus(double value, std::string_view by, Dimension dimension) {
    const bool of_value = by.ends_with('%');
    const double width =
        of_value ? std::abs(value) * parse_quantity(by, Dimension::ratio) : parse_quantity(by, dimension);
    if (std::signbit(width) && width != 0)
        throw UnitError("a range of less than nothing");
    return {value, value - width, value + width};
}

RangedValue times_or_over(double value, std::string_view by) {
    if (!unit_behind(by).empty())
        throw UnitError("a factor has no unit; write e.g. x/ 1.3");
    const double factor = parse_quantity(by, Dimension::ratio);
    if (factor < 1)
        throw UnitError("a factor either way must be 1 or more");
    return {value, value / factor, value * factor};
}

RangedValue between(const Halves& ends, Dimension dimension) {
    const double low = with_unit_of(ends.before, ends.after, dimension);
    const double high = parse_quantity(ends.after, dimension);
    if (!(low <= high))
        throw UnitError("a range must not fall; write the lower end first");
    const double middle = low > 0 ? std::sqrt(low) * std::sqrt(high) : (low + high) / 2;
    return {low == high ? low : middle, low, high};
}

/// "+/-" and "x//", of signs in one character with a stroke between, are other spellings.
std::string plain(std::string_view text) {
    auto plain = plain_quantity(text);
    for (const auto& [spelling, mark] : {std::pair{std::string_view{"+/-"}, plus_minus}, {"x//", by_factor}})
        if (const auto at = plain.find(spelling); at != std::string::npos)
            plain.replace(at, spelling.size(), mark);
    return plain;
}

} // namespace

bool is_range(std::string_view text) {
    const auto spelt = plain(text);
    return std::ranges::any_of(std::array{plus_minus, by_factor, to},
                               [&](std::string_view mark) { return spelt.find(mark) != std::string::npos; });
}

RangedValue parse_ranged(std::string_view text, Dimension dimension) {
    const auto spelt = plain(text);
    if (const auto ends = apart(spelt, to))
        return between(*ends, dimension);
    if (const auto parts = apart(spelt, plus_minus))
        return plus_or_minus(parts->after.ends_with('%')
                                 ? parse_quantity(parts->before, dimension)
                                 : with_unit_of(parts->before, parts->after, dimension),
                             parts->after, dimension);
    if (const auto parts = apart(spelt, by_factor))
        return times_or_over(parse_quantity(parts->before, dimension), parts->after);
    const double value = parse_quantity(spelt, dimension);
    return {value, value, value};
}

RangedValue parse_range_of(double value, std::string_view text, Dimension dimension) {
    const auto spelt = plain(text);
    const std::string_view range = trimmed(spelt);
    if (range.starts_with(plus_minus))
        return plus_or_minus(value, trimmed(range.substr(plus_minus.size())), dimension);
    if (range.starts_with(by_factor))
        return times_or_over(value, trimmed(range.substr(by_factor.size())));
    const auto ends = apart(range, to);
    if (!ends)
        throw UnitError("not a range; write e.g. \"+- 10 %\", \"x/ 1.3\" or \"low..high\" with a unit");
    auto read = between(*ends, dimension);
    read.value = value;
    return read;
}

std::string exact_range(const HardwareRange& range) {
    return fmt::format("{}..{}", range.low, exact_quantity(range.high, range.dimension));
}

} // namespace needleturn::scenarios
