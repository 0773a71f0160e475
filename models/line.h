/// Line: what a part finds around it when it is joined into a station.
#pragma once

#include "models/laws/storage.h"

#include <cstddef>
#include <string>
#include <tuple>
#include <vector>

namespace needleturn::models {

/// Index into StationParts::points.
using PointId = std::size_t;

/// Two pressure points with something between them. The flow is positive from the first to the second.
struct BetweenPoints {
    PointId from = 0, to = 0;

    static constexpr auto fields(auto& of) { return std::tie(of.from, of.to); }
    bool operator==(const BetweenPoints&) const = default;
};

template <class P> struct LineOf {
    std::vector<PortOf<P>> points;  ///< by PointId
    std::vector<std::string> names; ///< of the points
    PointId inlet = 0, outlet = 0;  ///< of the station's stages
    GasTraceOf<P> trace;
    std::size_t source = 0;       ///< drive: pressure of the source
    std::size_t supply_meter = 0; ///< state: volume taken from it
};

} // namespace needleturn::models
