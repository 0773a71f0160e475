/// A station in which every gas warms and cools.
#pragma once

#include "models/station.h"

namespace needleturn::tests {

/// `time` is the thermal time of each gas, s; what was free air of a polytrope is an amount now.
inline models::StationParts warm(models::StationParts parts, double time) {
    const models::GasHeat heat{time, 288.15};
    for (auto& stage : parts.stages) {
        stage.cover.air_index = models::air_heat_ratio;
        stage.cover.heat = heat;
    }
    for (auto& pocket : parts.air_pockets) {
        pocket.index = models::air_heat_ratio;
        pocket.heat = heat;
    }
    return parts;
}

} // namespace needleturn::tests
