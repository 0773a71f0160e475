/// A scenario as a flat list of settings, to show and to compare.
#pragma once

#include "scenarios/scenario.h"

#include <string>
#include <vector>

namespace needleturn::scenarios {

/// One key as an override spells it ("main.opening_control", "demand.steps.2.to") and its value in SI as the resolved
/// scenario spells it ("3 turns", "750000 Pa", "0.9", "steel").
struct Setting {
    std::string key;
    std::string value;

    bool operator==(const Setting&) const = default;
};

/// Every key of resolved(scenario), in its order. Title, question and what was found or left on site are no settings.
std::vector<Setting> settings_of(const Scenario& scenario);

} // namespace needleturn::scenarios
