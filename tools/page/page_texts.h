/// Texts with quantities for pages: told in both systems of units, of which a page shows the one that is chosen (tools/page/units.js:
/// told).
#pragma once

#include "scenarios/scenario.h"

#include <nlohmann/json.hpp>

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

/// `tell` says as many texts of a scenario in the one system as in the other. One that is the same in both is told once.
template <class Tell> std::vector<nlohmann::json> in_both(scenarios::Scenario scenario, const Tell& tell) {
    scenario.units = scenarios::UnitSystem::si;
    const std::vector<std::string> si = tell(std::as_const(scenario));
    scenario.units = scenarios::UnitSystem::us;
    const std::vector<std::string> us = tell(std::as_const(scenario));
    std::vector<nlohmann::json> texts;
    for (std::size_t i = 0; i < si.size(); ++i)
        texts.push_back(si[i] == us.at(i) ? nlohmann::json(si[i])
                                          : nlohmann::json{{"SI", si[i]}, {"US", us[i]}});
    return texts;
}

} // namespace needleturn
