#include "scenarios/hardware_entries.h"

#include "scenarios/keys.h"
#include "scenarios/toml_string.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <optional>
#include <utility>

namespace needleturn::scenarios {

namespace {

/// A key with its number, or with its value as TOML spells it.
struct Entry {
    HardwareNumber number;
    std::string literal;
};

/// Takes down the keys of a valve. Names and ranges are no values.
class Entries {
  public:
    std::vector<Entry> all;

    void required(std::string_view key, double& member, Dimension dimension, Range) {
        all.push_back({{prefix_ + std::string(key), dimension, &member}, ""});
    }
    void optional(std::string_view key, double& member, Dimension dimension, Range range) {
        required(key, member, dimension, range);
    }
    void optional(std::string_view key, std::optional<double>& member, Dimension dimension, Range range) {
        if (member)
            required(key, *member, dimension, range);
    }
    void optional(std::string_view, std::string&) {}
    void one_of(double& member, std::size_t&, const std::vector<Alternative>& alternatives) {
        const auto& first = alternatives.front(); // whose value is the member itself
        required(first.key, member, first.dimension, first.range);
    }
    void numbers(std::string_view key, std::vector<double>& member) {
        literal(key, fmt::format("[{}]", fmt::join(member, ", ")));
    }
    template <class E> void choice(std::string_view key, E& member, const Words<E>& words) {
        for (const auto& [word, value] : words)
            if (value == member)
                literal(key, toml_string(word));
    }
    template <class Visit> void table(std::string_view key, Presence, Visit&& visit) {
        Entries inner;
        inner.prefix_ = fmt::format("{}{}.", prefix_, key);
        visit(inner);
        std::move(inner.all.begin(), inner.all.end(), std::back_inserter(all));
    }
    template <class T, class Visit>
    void option(std::string_view key, std::optional<T>& member, Visit&& visit) {
        if (member)
            table(key, Presence::optional, [&](auto& in) { visit(in, *member); });
    }
    template <class T> void refuse(std::string_view, T&, std::string_view) {}
    void check(bool, std::string_view, std::string_view) {}

  private:
    void literal(std::string_view key, std::string value) {
        all.push_back({{prefix_ + std::string(key), Dimension::ratio, nullptr}, std::move(value)});
    }

    std::string prefix_;
};

std::vector<Entry> entries_of(PilotOperatedHardware& hardware) {
    Entries entries;
    visit_keys(entries, hardware);
    return std::move(entries.all);
}

/// Rounded to so many digits by `to_whole`: std::floor or std::ceil.
double rounded(double number, int digits, double (*to_whole)(double)) {
    if (number == 0)
        return 0;
    const double last = std::pow(10.0, digits - 1 - std::floor(std::log10(std::abs(number))));
    return to_whole(number * last) / last;
}

// A rounding error of the conversion is no digit.
constexpr double noise = 1e-9;
double down(double x) { return std::floor(x * (1 + noise)); }
double up(double x) { return std::ceil(x * (1 - noise)); }

std::string with_unit(const std::string& number, Dimension dimension, UnitSystem units) {
    const auto unit = display_unit(dimension, units);
    return unit.empty() ? number : fmt::format("{} {}", number, unit);
}

} // namespace

std::vector<HardwareNumber> numbers_of(PilotOperatedHardware& hardware) {
    std::vector<HardwareNumber> numbers;
    for (auto& entry : entries_of(hardware))
        if (entry.number.value != nullptr)
            numbers.push_back(std::move(entry.number));
    return numbers;
}

std::string quantity_text(double si, Dimension dimension, UnitSystem units, int digits) {
    return with_unit(fmt::format("{:.{}g}", in_display_unit(si, dimension, units), digits), dimension, units);
}

std::string range_text(const HardwareRange& range, UnitSystem units, int digits) {
    const double low = rounded(in_display_unit(range.low, range.dimension, units), digits, down);
    const double high = rounded(in_display_unit(range.high, range.dimension, units), digits, up);
    return with_unit(fmt::format("{:.{}g}..{:.{}g}", low, digits, high, digits), range.dimension, units);
}

std::string hardware_file_text(const PilotOperatedHardware& hardware, const std::string& size,
                               UnitSystem units,
                               const std::function<std::string(const std::string& key)>& origin_of) {
    constexpr int digits = 7,
                  digits_of_ranges = 6; // fewer, so that rounded ends still hold the rounded value
    auto copy = hardware;               // visit_keys serves readers and so wants to change it
    std::string text = fmt::format("[{}]\n", size);
    for (const auto& [number, literal] : entries_of(copy)) {
        if (number.value == nullptr) {
            text += fmt::format("{} = {}\n", number.key, literal);
            continue;
        }
        const auto value = quantity_text(*number.value, number.dimension, units, digits);
        text += fmt::format("{} = {} # {}\n", number.key,
                            number.dimension == Dimension::ratio ? value : toml_string(value),
                            origin_of(number.key));
    }
    text += fmt::format("\n[{}.ranges]\n", size);
    for (const auto& range : hardware.ranges)
        text += fmt::format("{} = {} # {}\n", range.key,
                            toml_string(range_text(range, units, digits_of_ranges)), origin_of(range.key));
    return text;
}

} // namespace needleturn::scenarios
