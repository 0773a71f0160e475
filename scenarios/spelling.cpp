#include "scenarios/spelling.h"

#include <algorithm>
#include <array>
#include <utility>

namespace needleturn::scenarios {

namespace {

using Pair = std::pair<std::string_view, std::string_view>;

constexpr std::array fractions{Pair{"½", "1/2"}, Pair{"⅓", "1/3"}, Pair{"⅔", "2/3"}, Pair{"¼", "1/4"},
                               Pair{"¾", "3/4"}, Pair{"⅕", "1/5"}, Pair{"⅖", "2/5"}, Pair{"⅗", "3/5"},
                               Pair{"⅘", "4/5"}, Pair{"⅙", "1/6"}, Pair{"⅚", "5/6"}, Pair{"⅛", "1/8"},
                               Pair{"⅜", "3/8"}, Pair{"⅝", "5/8"}, Pair{"⅞", "7/8"}};

constexpr std::array characters{
    Pair{"\u2212", "-"},                                                 // minus sign
    Pair{"\u2013", "-"},    Pair{"\u2010", "-"},    Pair{"\u2011", "-"}, // dash and hyphens that stand for it
    Pair{"\u2044", "/"},                                                 // fraction slash
    Pair{"\u00a0", " "},    Pair{"\u2009", " "},    Pair{"\u202f", " "},
    Pair{"\u2007", " "},                           // spaces of other widths
    Pair{"\u00b0", "deg"},  Pair{"\u00ba", "deg"}, // degree sign, and what looks like it
    Pair{"\u2103", "degC"}, Pair{"\u2109", "degF"}, Pair{"\u00b2", "2"},
    Pair{"\u00b3", "3"},                                                 // raised
    Pair{"\u00b5", "u"},    Pair{"\u03bc", "u"},                         // micro sign, Greek letter
    Pair{"\u00b7", " "},    Pair{"\u22c5", " "},                         // dots of a product: N·s/m
    Pair{"\u2033", "in"},   Pair{"\u2032", "ft"},                        // double prime, prime
    Pair{"\u00b1", "+-"},   Pair{"\u00d7", "x"},    Pair{"\u00f7", "/"}, // of ranges (hardware_range.h)
};

constexpr std::array same{Pair{"psig", "psi"},      Pair{"psi(g)", "psi"},    Pair{"barg", "bar"},
                          Pair{"bar(g)", "bar"},    Pair{"mbarg", "mbar"},    Pair{"kPag", "kPa"},
                          Pair{"kPa(g)", "kPa"},    Pair{"MPag", "MPa"},      Pair{"l/s", "L/s"},
                          Pair{"l/min", "L/min"},   Pair{"ml/s", "mL/s"},     Pair{"l", "L"},
                          Pair{"ml", "mL"},         Pair{"ml/bar", "mL/bar"}, Pair{"l/bar", "L/bar"},
                          Pair{"ml/psi", "mL/psi"}, Pair{"deg C", "degC"},    Pair{"deg F", "degF"}};

constexpr std::array probable{Pair{"bars", "bar"},
                              Pair{"lps", "L/s"},
                              Pair{"lpm", "L/min"},
                              Pair{"l/m", "L/min"},
                              Pair{"usgpm", "gpm"},
                              Pair{"gal/min", "gpm"},
                              Pair{"m3/hr", "m3/h"},
                              Pair{"cmh", "m3/h"},
                              Pair{"cbm/h", "m3/h"},
                              Pair{"inch", "in"},
                              Pair{"inches", "in"},
                              Pair{"\"", "in"},
                              Pair{"feet", "ft"},
                              Pair{"foot", "ft"},
                              Pair{"'", "ft"},
                              Pair{"metre", "m"},
                              Pair{"metres", "m"},
                              Pair{"meter", "m"},
                              Pair{"meters", "m"},
                              Pair{"sec", "s"},
                              Pair{"secs", "s"},
                              Pair{"second", "s"},
                              Pair{"seconds", "s"},
                              Pair{"mins", "min"},
                              Pair{"minute", "min"},
                              Pair{"minutes", "min"},
                              Pair{"hr", "h"},
                              Pair{"hrs", "h"},
                              Pair{"hour", "h"},
                              Pair{"hours", "h"},
                              Pair{"litre", "L"},
                              Pair{"litres", "L"},
                              Pair{"liter", "L"},
                              Pair{"liters", "L"},
                              Pair{"cc", "mL"},
                              Pair{"cm3", "mL"},
                              Pair{"gals", "gal"},
                              Pair{"gallon", "gal"},
                              Pair{"gallons", "gal"},
                              Pair{"c", "degC"},
                              Pair{"f", "degF"},
                              Pair{"celsius", "degC"},
                              Pair{"fahrenheit", "degF"},
                              Pair{"rev", "turns"},
                              Pair{"revs", "turns"},
                              Pair{"revolutions", "turns"},
                              Pair{"mwc", "mH2O"},
                              Pair{"ftwc", "ftH2O"},
                              Pair{"m h2o", "mH2O"},
                              Pair{"ft h2o", "ftH2O"},
                              Pair{"lbs", "lb"},
                              Pair{"pounds", "lb"},
                              Pair{"percent", "%"},
                              Pair{"pct", "%"},
                              Pair{"sqin", "in2"},
                              Pair{"sq in", "in2"},
                              Pair{"cuin", "in3"},
                              Pair{"cu in", "in3"},
                              Pair{"kgs", "kg"}};

bool is_digit(char c) { return c >= '0' && c <= '9'; }
char lower_case(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

std::string_view partner(const auto& pairs, std::string_view word) {
    const auto found =
        std::find_if(pairs.begin(), pairs.end(), [&](const Pair& pair) { return pair.first == word; });
    return found == pairs.end() ? std::string_view{} : found->second;
}

} // namespace

std::string plain_quantity(std::string_view text) {
    std::string plain;
    const auto take = [&](const Pair& pair, bool fraction) {
        if (!text.starts_with(pair.first))
            return false;
        if (fraction && !plain.empty() && is_digit(plain.back()))
            plain += ' ';
        plain += pair.second;
        if (fraction)
            plain += ' '; // else a digit behind it would become part of the denominator
        text.remove_prefix(pair.first.size());
        return true;
    };
    while (!text.empty())
        if (static_cast<unsigned char>(text.front()) < 0x80
            || (!std::any_of(fractions.begin(), fractions.end(),
                             [&](const Pair& pair) { return take(pair, true); })
                && !std::any_of(characters.begin(), characters.end(),
                                [&](const Pair& pair) { return take(pair, false); }))) {
            plain += text.front();
            text.remove_prefix(1);
        }
    return plain;
}

std::string_view same_unit(std::string_view spelling) {
    const auto unit = partner(same, spelling);
    return unit.empty() ? spelling : unit;
}

std::string_view probable_unit(std::string_view spelling) {
    std::string small(spelling);
    std::transform(small.begin(), small.end(), small.begin(), lower_case);
    return partner(probable, small);
}

std::string_view trimmed(std::string_view text, std::string_view spaces) {
    const auto begin = text.find_first_not_of(spaces);
    return begin == std::string_view::npos ? ""
                                           : text.substr(begin, text.find_last_not_of(spaces) - begin + 1);
}

} // namespace needleturn::scenarios
