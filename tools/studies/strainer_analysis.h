/// What a recording shows of the strainer ahead of the station.
#pragma once

#include "models/station_parts.h"
#include "sim/surge.h"
#include "sim/tracks.h"

#include <optional>

namespace needleturn {

/// As an event leaves it, settled.
struct StrainerVerdict {
    double open = 1;       ///< share of its meshes, 1 clean
    double flow = 0;       ///< m3/s
    double drop = 0;       ///< Pa
    double behind = 0;     ///< Pa gauge
    double clean_drop = 0; ///< Pa that it would take clean, of the same flow
};

/// Of the samples of one event, every `interval` s. None where there is no strainer, or it is not known (null), or the recording does
/// not tell.
std::optional<StrainerVerdict> strainer_verdict(const models::StationParts* parts,
                                                const sim::Tracks& recording, const sim::EventWindow& window,
                                                double interval);

} // namespace needleturn
