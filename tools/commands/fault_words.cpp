#include "tools/commands/fault_words.h"

#include "scenarios/read_scenario.h"
#include "scenarios/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstddef>

namespace needleturn {

namespace {

constexpr std::array faults{
    FaultWords{Fault::none, "healthy", "nothing"},
    FaultWords{Fault::air_in_cover, "air in the cover",
               "bleed the cover at its highest point until water runs clear"},
    FaultWords{Fault::restriction_plugged, "fixed restriction or strainer plugged",
               "clean the strainer and the fixed restriction"},
    FaultWords{Fault::opening_control_nearly_shut, "opening control nearly shut",
               "count the turns of the opening control"},
    FaultWords{Fault::closing_control_nearly_shut, "closing control nearly shut",
               "count the turns of the closing control"},
    FaultWords{Fault::opening_check_stuck_open, "check of the opening control stuck open",
               "take out and clean the check of the opening control"},
    FaultWords{Fault::pilot_sluggish, "pilot sluggish",
               "exercise the pilot; clean its stem, look at its diaphragm"},
    FaultWords{Fault::pilot_diaphragm_leaking, "pilot diaphragm leaking",
               "look for water at the vent of the pilot's spring chamber"},
    FaultWords{Fault::main_diaphragm_leaking, "main diaphragm leaking",
               "shut the pilot's cocks: does the cover still drain to the outlet?"},
    FaultWords{Fault::seat_held_open, "seat held open by debris",
               "flush at full lift; open the valve and look at seat and disc"},
    FaultWords{Fault::sensing_line_throttled, "sensing line throttled",
               "blow through the sensing line, open its cock fully"},
    FaultWords{Fault::sensing_line_isolated, "sensing line isolated", "open the cock of the sensing line"},
    FaultWords{Fault::set_close_to_inlet, "pilot set too close to the inlet pressure",
               "compare the inlet gauge with the setting"},
    FaultWords{Fault::inlet_starved, "inlet starved",
               "watch the inlet gauge while water runs; look for a cock half shut upstream"},
    FaultWords{Fault::strainer_clogged, "strainer ahead of the station clogged",
               "read gauges ahead of and behind the strainer while water runs; clean its screen"},
    FaultWords{Fault::sustaining_set_high, "sustaining pilot set too close to the inlet pressure",
               "compare the inlet gauge at rest with the setting of the sustaining pilot"},
    FaultWords{Fault::sustaining_backed_off, "sustaining pilot backed off",
               "read the inlet gauge at full flow: does turning the sustaining screw in raise it?"},
    FaultWords{Fault::stuck_by_day, "night setting stuck by day",
               "let little flow for some minutes: does the actuator move, does the outlet fall?"},
    FaultWords{Fault::stuck_by_night, "night setting stuck by night",
               "bring on full flow for some minutes: does the actuator move, does the outlet rise?"},
    FaultWords{Fault::bypass_set_below_main, "bypass set below the main valve",
               "shut off all but the bypass and read it statically"}};

constexpr std::array readings{
    ReadingWords{Reading::static_pressure, "static", "outlet gauge at rest"},
    ReadingWords{Reading::creep, "creep", "rise of the outlet gauge at rest, in a minute"},
    ReadingWords{Reading::low, "low", "outlet gauge at low flow"},
    ReadingWords{Reading::low_swing, "low-swing", "hunting at low flow, peak to peak"},
    ReadingWords{Reading::low_period, "low-period", "period of the hunting at low flow"},
    ReadingWords{Reading::flowing, "flowing", "outlet gauge at full flow"},
    ReadingWords{Reading::swing, "peak-to-peak", "hunting at full flow, peak to peak"},
    ReadingWords{Reading::period, "period", "period of the hunting at full flow"},
    ReadingWords{Reading::inlet, "inlet", "inlet gauge at full flow"},
    ReadingWords{Reading::cover, "cover", "cover gauge at full flow"},
    ReadingWords{Reading::sag, "sag", "lowest outlet pressure when flow is brought on"},
    ReadingWords{Reading::surge, "surge", "highest outlet pressure when flow is stopped"},
    ReadingWords{Reading::response, "response", "time from opening outlets until the outlet gauge is steady"},
    ReadingWords{Reading::flow, "flow", "flow delivered at full flow"},
    ReadingWords{Reading::drip, "drip", "water from the pilot's vent"}};
static_assert(readings.size() == reading_count);

struct SignName {
    Sign sign;
    const char* name;
};
constexpr std::array signs{SignName{Sign::hunts_at_low_flow, "hunts at low flow"},
                           SignName{Sign::hunts_at_full_flow, "hunts at full flow"},
                           SignName{Sign::steady_at_low_flow, "steady at low flow"},
                           SignName{Sign::steady_at_full_flow, "steady at full flow"},
                           SignName{Sign::static_creeps_up, "static pressure creeps up"},
                           SignName{Sign::static_too_low, "static pressure too low"},
                           SignName{Sign::flowing_too_high, "flowing pressure too high"},
                           SignName{Sign::flowing_too_low, "flowing pressure too low"},
                           SignName{Sign::sags_when_flow_comes, "sags when flow is brought on"},
                           SignName{Sign::surges_when_flow_stops, "surges when flow stops"},
                           SignName{Sign::slow_to_respond, "slow to respond"},
                           SignName{Sign::inlet_falls_with_flow, "inlet falls with flow"},
                           SignName{Sign::water_at_vent, "water at the pilot's vent"}};

/// "static=4.9 bar"; `equals`: where its sign of equality stands.
Seen parse_reading(const std::string& text, std::size_t equals) {
    const auto key = text.substr(0, equals);
    const auto* const found = std::ranges::find(readings, key, &ReadingWords::key);
    if (found == readings.end()) {
        std::vector<std::string> keys;
        for (const auto& reading : readings)
            keys.emplace_back(reading.key);
        throw scenarios::ScenarioError(
            fmt::format("--seen \"{}\": {} is no reading; allowed: {}", text, key, fmt::join(keys, ", ")));
    }
    const auto reading = found->reading;
    try {
        return {reading, scenarios::parse_quantity(text.substr(equals + 1), kind_of(reading).dimension)};
    } catch (const scenarios::UnitError& error) {
        throw scenarios::ScenarioError(fmt::format("--seen \"{}\": {}", text, error.what()));
    }
}

} // namespace

const FaultWords& words_of(Fault fault) { return *std::ranges::find(faults, fault, &FaultWords::fault); }

const ReadingWords& words_of(Reading reading) {
    return *std::ranges::find(readings, reading, &ReadingWords::reading);
}

std::vector<std::string> sign_names() {
    std::vector<std::string> names;
    for (const auto& sign : signs)
        names.emplace_back(sign.name);
    return names;
}

Sighting parse_sighting(std::span<const std::string> seen) {
    Sighting sighting;
    for (const auto& text : seen) {
        if (const auto equals = text.find('='); equals != std::string::npos) {
            sighting.numbers.push_back(parse_reading(text, equals));
            continue;
        }
        const auto* const sign = std::ranges::find(signs, text, &SignName::name);
        if (sign == signs.end())
            throw scenarios::ScenarioError(
                fmt::format("--seen \"{}\": unknown; allowed: {}; or a reading, \"static=4.9 bar\"", text,
                            fmt::join(sign_names(), ", ")));
        sighting.signs.push_back(sign->sign);
    }
    return sighting;
}

} // namespace needleturn
