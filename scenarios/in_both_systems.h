/// Texts with quantities, told in both systems of units, for readers who choose one later.
#pragma once

#include "scenarios/scenario.h"

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::scenarios {

/// One text; the same twice where it holds no quantity.
struct InBothSystems {
    std::string si, us;

    bool operator==(const InBothSystems&) const = default;
};

/// `tell` says as many texts of a scenario in the one system as in the other.
template <class Tell> std::vector<InBothSystems> in_both_systems(Scenario scenario, const Tell& tell) {
    scenario.units = UnitSystem::si;
    const std::vector<std::string> si = tell(std::as_const(scenario));
    scenario.units = UnitSystem::us;
    const std::vector<std::string> us = tell(std::as_const(scenario));
    std::vector<InBothSystems> texts;
    for (std::size_t i = 0; i < si.size(); ++i)
        texts.push_back({si[i], us.at(i)});
    return texts;
}

} // namespace needleturn::scenarios
