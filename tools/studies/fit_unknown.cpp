#include "tools/studies/fit_unknown.h"

#include "scenarios/hardware_range.h"
#include "scenarios/spelling.h"
#include "scenarios/table_reader.h"
#include "scenarios/unit_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Dimension;

double normal_share(double z) { return std::erfc(-z / std::numbers::sqrt2) / 2; }
double normal_density(double z) {
    return std::exp(-z * z / 2) * std::numbers::inv_sqrtpi / std::numbers::sqrt2;
}

constexpr std::array gauge_keys{
    std::pair{"gauge.offset", Dimension::pressure}, std::pair{"gauge.gain", Dimension::ratio},
    std::pair{"gauge.lag", Dimension::time}, std::pair{"gauge.clock", Dimension::time}};

std::optional<scenarios::RangedValue> range_as(std::string_view text, Dimension dimension) {
    try {
        return scenarios::parse_ranged(text, dimension);
    } catch (const scenarios::UnitError&) {
        return {};
    }
}

Unknown asked_unknown(const std::string& text) {
    const auto equals = text.find('=');
    const auto refuse = [&](std::string_view why) {
        scenarios::raise(fmt::format("--unknown {}: {}", text, why));
    };
    if (equals == std::string::npos)
        refuse("write KEY=LOW..HIGH, e.g. \"main.air_in_cover=0..100 mL\"");
    Unknown unknown;
    unknown.key = std::string(scenarios::trimmed(std::string_view(text).substr(0, equals)));
    const auto range = std::string_view(text).substr(equals + 1);
    const auto take = [&](Dimension dimension) {
        const auto read = range_as(range, dimension);
        if (read) {
            unknown.dimension = dimension;
            unknown.low = read->low;
            unknown.high = read->high;
        }
        return read.has_value();
    };
    bool taken = false;
    if (unknown.of_gauge()) {
        const auto* const known =
            std::ranges::find_if(gauge_keys, [&](const auto& entry) { return entry.first == unknown.key; });
        if (known == gauge_keys.end())
            refuse("of a gauge there are gauge.offset, gauge.gain, gauge.lag and gauge.clock");
        taken = take(known->second);
    }
    // A pressure and a modulus share their units and their SI unit, so the first dimension that fits serves.
    for (const auto& face : scenarios::all_faces())
        taken = taken || (!unknown.of_gauge() && take(face.dimension));
    if (!taken)
        refuse(
            "no range of a quantity; write both ends with a unit, e.g. \"0..100 mL\" or \"3 turns +- 10 %\"");
    if (!(unknown.low < unknown.high) || !std::isfinite(unknown.low) || !std::isfinite(unknown.high))
        refuse("the range has no width");
    if (unknown.key == "gauge.gain" && !(unknown.low > 0))
        refuse("a gain is above 0; 1.02 is a gauge that reads 2 % too much");
    if (unknown.key == "gauge.lag" && unknown.low < 0)
        refuse("a gauge cannot run ahead; the lag is 0 or more");
    return unknown;
}

/// The keys of a stage that nobody knows exactly.
void add_usual(const scenarios::Stage& stage, std::vector<Unknown>& unknowns) {
    for (const auto& range : ranges_of(stage.hardware))
        if (range.low < range.high)
            unknowns.push_back({fmt::format("{}.override.{}", stage.name, range.key), range.dimension,
                                range.low, range.high, true});
    const auto* valve = stage.pilot_operated();
    if (valve == nullptr)
        return;
    constexpr double most_air = 0.2;      // of the cover; common practice, no source
    constexpr double counted_to = 0.25;   // turns; common practice, no source
    constexpr double nearly_shut = 0.125; // turns
    const bool alone =
        stage.air_in_cover.gas == scenarios::GasLaw{}; // else the table keeps what it says of the gas
    if (!stage.air_in_cover.at)
        unknowns.push_back({stage.name + (alone ? ".air_in_cover" : ".air_in_cover.volume"),
                            Dimension::volume, 0,
                            std::max(most_air * valve->cover.volume, 2 * stage.air_in_cover.volume)});
    for (const auto& [key, turns] : {std::pair{"opening_control", stage.opening_control},
                                     std::pair{"closing_control", stage.closing_control}})
        if (turns > nearly_shut)
            unknowns.push_back({fmt::format("{}.{}", stage.name, key), Dimension::turns,
                                std::max(turns - counted_to, turns / 2),
                                std::min(turns + counted_to, valve->speed_control.full_turns)});
    std::erase_if(unknowns, [](const Unknown& unknown) { return !(unknown.low < unknown.high); });
}

} // namespace

double Unknown::value(double z) const {
    const double share = normal_share(z);
    return low > 0 ? low * std::pow(high / low, share) : low + (high - low) * share;
}

double Unknown::slope(double z) const {
    return normal_density(z) * (low > 0 ? value(z) * std::log(high / low) : high - low);
}

scenarios::Override Unknown::override_at(double z) const {
    return {fmt::format("{}={}", key, scenarios::exact_quantity(value(z), dimension))};
}

std::vector<Unknown> unknowns_of(const scenarios::Scenario& scenario, const std::vector<std::string>& asked) {
    std::vector<Unknown> own, unknowns;
    for (const auto& text : asked)
        own.push_back(asked_unknown(text));
    for (std::size_t i = 0; i < own.size(); ++i)
        for (std::size_t k = 0; k < i; ++k)
            if (own[i].key == own[k].key)
                scenarios::raise(fmt::format("--unknown {}: is named twice", own[i].key));
    if (std::ranges::all_of(own, &Unknown::of_gauge))
        for (const auto& stage : scenario.stages)
            add_usual(stage, unknowns);
    unknowns.insert(unknowns.end(), own.begin(), own.end());
    constexpr double offset = 1e4; // Pa; a gauge of class 1 and 10 bar (EN 837-1, from memory)
    if (std::ranges::find(unknowns, "gauge.offset", &Unknown::key) == unknowns.end())
        unknowns.push_back({"gauge.offset", Dimension::pressure, -offset, offset});
    return unknowns;
}

} // namespace needleturn
