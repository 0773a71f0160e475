#include "tools/studies/unit_exponents.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

constexpr UnitExponents metre{{1, 0, 0, 0}}, second{{0, 0, 1, 0}}, kelvin{{0, 0, 0, 1}},
    pascal{{-1, 1, -2, 0}};

constexpr std::array<std::pair<std::string_view, UnitExponents>, 8> symbols{{{"m", metre},
                                                                             {"kg", {{0, 1, 0, 0}}},
                                                                             {"s", second},
                                                                             {"K", kelvin},
                                                                             {"Pa", pascal},
                                                                             {"N", {{1, 1, -2, 0}}},
                                                                             {"Hz", {{0, 0, -1, 0}}},
                                                                             {"1", {}}}};

} // namespace

UnitExponents exponents_of(std::string_view udunits) {
    UnitExponents exponents;
    const auto refuse = [&] {
        throw std::invalid_argument(fmt::format("the unit {} is not known", udunits));
    };
    for (auto rest = udunits; !rest.empty();) {
        const auto word = rest.substr(0, rest.find(' '));
        rest.remove_prefix(std::min(rest.size(), word.size() + 1));
        const auto letters =
            std::max<std::size_t>(std::min(word.find_first_of("-0123456789"), word.size()), 1);
        const auto* const found = std::ranges::find(symbols, word.substr(0, letters),
                                                    &std::pair<std::string_view, UnitExponents>::first);
        double power = 1;
        const auto digits = word.substr(letters);
        if (found == symbols.end()
            || (!digits.empty()
                && std::from_chars(digits.data(), digits.data() + digits.size(), power).ptr
                       != digits.data() + digits.size()))
            refuse();
        exponents = exponents.times(found->second, power);
    }
    return exponents;
}

std::string udunits_of(const UnitExponents& exponents) {
    const double pascals = exponents.of[1];
    const auto rest = exponents.times(pascal, -pascals);
    if (exponents == exponents_of("N"))
        return "N";
    const std::array<std::pair<const char*, double>, 4> parts{
        {{"m", rest.of[0]}, {"s", rest.of[2]}, {"K", rest.of[3]}, {"Pa", pascals}}};
    std::string text;
    const auto add = [&](const auto& part) {
        text += fmt::format("{}{}{}", text.empty() ? "" : " ", part.first,
                            part.second == 1 ? "" : fmt::format("{}", part.second));
    };
    // What stands above the line first, the pressure before all.
    if (pascals > 0)
        add(parts[3]);
    for (const auto& part : parts)
        if (part.second > 0 && &part != &parts[3])
            add(part);
    for (const auto& part : parts)
        if (part.second < 0)
            add(part);
    return text.empty() ? "1" : text;
}

} // namespace needleturn
