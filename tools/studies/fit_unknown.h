/// What a fit may change: a key of the scenario, or a property of the gauges, each within a range.
///
/// An unknown is told by a standard normal number z: its value lies the share Phi(z) of the way from the low end of its range to the
/// high one, by its logarithm where the low end is above 0. So the normal prior of z is the range as scenarios/hardware_range.h
/// means it, every place as likely as another, and no z leaves the range.
#pragma once

#include "scenarios/read_scenario.h"
#include "scenarios/trace.h"
#include "scenarios/units.h"

#include <string>
#include <vector>

namespace needleturn {

struct Unknown {
    std::string key; ///< as --set spells it, or "gauge.offset", "gauge.gain", "gauge.lag", "gauge.clock"
    scenarios::Dimension dimension = scenarios::Dimension::ratio;
    double low = 0, high = 0; ///< SI, low < high
    bool hardware = false;    ///< a value of hardware that has a range of its own

    bool of_gauge() const { return key.starts_with("gauge."); }
    double value(double z) const;
    double slope(double z) const; ///< of value, per unit of z
    scenarios::Override override_at(double z) const;
};

/// Those that `asked` names, "main.air_in_cover=0..100 mL". Where none of them is a key of the scenario: the hardware values with
/// a range, the air in each cover (nothing to a fifth of the cover) and the turns of needles (a quarter turn either way). Besides
/// the offset of each pressure gauge, +- 0.1 bar, unless asked names it. Throws scenarios::ScenarioError.
std::vector<Unknown> unknowns_of(const scenarios::Scenario& scenario, const std::vector<std::string>& asked);

} // namespace needleturn
