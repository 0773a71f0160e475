/// What a station shows when something is wrong with it: a library of faults, each simulated, and how well what was seen on
/// site fits each. A hint where to look first, not a diagnosis.
#pragma once

#include "scenarios/scenario.h"
#include "scenarios/units.h"

#include <array>
#include <cstddef>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn {

/// What can be read at the valve, at rest and at the lowest and the full flow of the scenario's demand.
enum class Reading : std::size_t {
    static_pressure, ///< outlet gauge, half a minute after the flow has stopped
    creep,           ///< its rise in a minute then
    low,             ///< outlet gauge at low flow, the middle of its swing
    low_swing,       ///< its hunting there, peak to peak; 0: none
    low_period,      ///< s of that hunting; 0: none
    flowing,         ///< outlet gauge at full flow
    swing,           ///< its hunting there
    period,
    inlet,    ///< inlet gauge at full flow
    cover,    ///< cover gauge at full flow
    sag,      ///< lowest outlet pressure when the flow is brought on
    surge,    ///< highest outlet pressure when it is stopped
    response, ///< s from opening the outlets until the outlet gauge is steady
    flow,     ///< delivered at full flow
    drip      ///< water from the vent of the pilot's spring chamber, m3/s
};
inline constexpr std::size_t reading_count = 15;

/// How a reading is called after --seen, how it is shown, and the least of it that can be read.
struct ReadingKind {
    std::string_view key;
    scenarios::Dimension dimension;
    double least; ///< SI; differences far below are nobody's to see
    std::string_view meaning;
};
const ReadingKind& kind_of(Reading reading);
const std::array<Reading, reading_count>& all_readings();

/// What was read, in SI.
struct Seen {
    Reading reading;
    double value;
};

/// A station in one state of health, simulated.
struct Signature {
    std::string fault;  ///< "healthy", "air in the cover", ...
    std::string remedy; ///< what to look at
    std::array<double, reading_count> value{};
    std::string failure; ///< empty, or why there are no readings

    double operator[](Reading reading) const { return value[static_cast<std::size_t>(reading)]; }
};

/// Simulates the station healthy (first) and with each fault that it can have: low flow, full flow, stopped. Throws
/// std::invalid_argument when no stage is pilot-operated or the demand never flows.
/// `one_more` is called after each.
std::vector<Signature> fault_signatures(const scenarios::Scenario& scenario,
                                        const std::function<void()>& one_more = {});
/// The first of them alone.
Signature healthy_signature(const scenarios::Scenario& scenario);

/// One thing seen on site: readings, or a word such as "hunts at low flow".
struct Sighting {
    std::vector<Seen> numbers;
    std::vector<std::string> words;
};

/// "static=4.9 bar", "hunts at low flow". Throws scenarios::ScenarioError, which says what is allowed.
Sighting parse_sighting(std::span<const std::string> seen);
/// The words that parse_sighting knows.
std::vector<std::string> sighting_words();

/// A signature and how far it is from what was seen: the sum of squares of the differences, each in the uncertainty of its
/// reading (reading_uncertainty); 9 for each word that does not hold.
struct Ranked {
    std::size_t signature = 0; ///< index
    double distance = 0;
};

/// Relative uncertainty of a reading on site: a common gauge, a hand-held watch. Common practice, no source.
inline constexpr double reading_uncertainty = 0.05;
/// Of two signatures whose distances differ by less than this, what was seen does not say which it is: three standard
/// deviations, squared.
inline constexpr double not_told_apart = 9;

/// Nearest first; signatures that failed are left out.
std::vector<Ranked> rank(std::span<const Signature> signatures, const Sighting& sighting);

/// The first and those that cannot be told from it.
std::vector<Ranked> candidates(std::span<const Ranked> ranking);

/// The reading not in `sighting` in which the two differ most, if by three uncertainties or more.
struct Separating {
    bool found = false;
    Reading reading = Reading::static_pressure;
};
Separating separating_reading(const Signature& one, const Signature& other, const Sighting& sighting);

} // namespace needleturn
