/// The table of limits for pages (tools/page/finding.js: knowLimits).
#pragma once

#include "scenarios/limits.h"

#include <nlohmann/json.hpp>

#include <string>

namespace needleturn {

inline nlohmann::json page_limits() {
    auto list = nlohmann::json::array();
    for (const auto& limit : scenarios::acceptance_limits)
        list.push_back({{"key", limit.key},
                        {"name", limit.name},
                        {"unit", scenarios::udunits(limit.dimension)},
                        {"at_least", limit.at_least},
                        {"breach", limit.breach},
                        {"letter", std::string(1, limit.letter)},
                        {"metric", limit.metric},
                        {"of_outlet", limit.of == scenarios::LimitOf::each_outlet},
                        {"of_valve_outlet", limit.of == scenarios::LimitOf::valve_outlet}});
    return list;
}

} // namespace needleturn
