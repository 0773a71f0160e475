/// What a station shows when something is wrong with it: a library of faults, each simulated, and how well what was seen on
/// site fits each. A hint where to look first, not a diagnosis.
#pragma once

#include "scenarios/scenario.h"
#include "scenarios/units.h"
#include "tools/studies/fault_library.h"

#include <array>
#include <cstddef>
#include <span>
#include <string>
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

struct ReadingKind {
    scenarios::Dimension dimension;
    double least; ///< SI; nobody can see differences far below it
};
ReadingKind kind_of(Reading reading);
const std::array<Reading, reading_count>& all_readings();

/// What was read, in SI.
struct Seen {
    Reading reading;
    double value;
};

/// A station in one state of health, simulated.
struct Signature {
    Fault fault = Fault::none;
    std::array<double, reading_count> value{};
    std::string failure;               ///< empty, or why there are no readings
    std::vector<std::string> relieved; ///< relief valves that open

    double operator[](Reading reading) const { return value[static_cast<std::size_t>(reading)]; }
};

/// Simulates the station with a fault, or healthy: low flow, full flow, stopped. Throws std::invalid_argument when no stage is
/// pilot-operated or the demand never flows.
Signature fault_signature(const scenarios::Scenario& scenario, Fault fault);
Signature healthy_signature(const scenarios::Scenario& scenario);

/// What a fitter sees without a number.
enum class Sign {
    hunts_at_low_flow,
    hunts_at_full_flow,
    steady_at_low_flow,
    steady_at_full_flow,
    static_creeps_up,
    static_too_low,
    flowing_too_high,
    flowing_too_low,
    sags_when_flow_comes,
    surges_when_flow_stops,
    slow_to_respond,
    inlet_falls_with_flow,
    water_at_vent
};
/// Is it to be seen on a station in this state, known to its owner in good health?
bool shows(const Signature& signature, const Signature& healthy, Sign sign);

/// What was seen on site.
struct Sighting {
    std::vector<Seen> numbers;
    std::vector<Sign> signs;
};

/// A signature and how far it is from what was seen: the sum of squares of the differences, each in the uncertainty of its
/// reading (reading_uncertainty); 9 for each sign that it does not show.
struct Ranked {
    std::size_t signature = 0; ///< index
    double distance = 0;
    std::size_t not_shown = 0; ///< signs seen that it does not show
};

inline constexpr double opens_in = 2;  ///< s, in which hands bring full flow on for the readings
inline constexpr double shuts_in = 10; ///< s, in which they go down again: hands that know of surge
/// Relative uncertainty of a reading on site: a common gauge, a hand-held watch. Common practice, no source.
inline constexpr double reading_uncertainty = 0.05;
/// Of two signatures whose distances differ by less than this, what was seen does not say which it is: three standard
/// deviations, squared.
inline constexpr double not_told_apart = 9;

/// The distance that chance, `reading_uncertainty` in each of so many readings, keeps within in 99.73 of 100 cases (three standard
/// deviations of one): the quantile of chi-squared. E. B. Wilson, M. M. Hilferty, PNAS 17 (1931) 684, from memory; for one
/// reading 9.1 instead of 9.0. 0 for none.
double chance_reaches(std::size_t readings);
/// Does it show every sign seen, and lies no farther than chance reaches?
bool fits(const Ranked& ranked, const Sighting& sighting);

/// Nearest first; signatures that failed are left out.
std::vector<Ranked> rank(std::span<const Signature> signatures, const Sighting& sighting);

/// The first and those that cannot be told from it.
std::vector<Ranked> candidates(std::span<const Ranked> ranking);

/// Uncertainties of a reading from which two signatures are told apart by it.
inline constexpr double told_apart = 3;
/// By how many of the reading's uncertainties two signatures differ in it.
double uncertainties_apart(const Signature& one, const Signature& other, Reading reading);

/// The reading not in `sighting` in which the two differ most; `found`: by `told_apart` or more.
struct Separating {
    bool found = false;
    Reading reading = Reading::static_pressure;
    double apart = 0; ///< uncertainties; 0: they differ in none
};
Separating separating_reading(const Signature& one, const Signature& other, const Sighting& sighting);

} // namespace needleturn
