/// What a recording shows of night settings: what the pilot is set to as an event ends.
#pragma once

#include "models/station_parts.h"
#include "sim/surge.h"
#include "sim/tracks.h"

#include <string>
#include <vector>

namespace needleturn {

/// Nearer than this to one of its ends a night setting stands there: what is left of it is less than a gauge shows.
inline constexpr double at_an_end = 0.01;

/// As an event leaves it.
struct NightVerdict {
    std::string stage;
    double setting = 0;   ///< Pa, static set pressure at the end
    double day_share = 0; ///< 0 by night, 1 by day
    double moved = 0;     ///< of day_share, in the last tenth of the event
};

/// Of each stage that has one. Nothing where the parts are not known (null), or the recording does not tell.
std::vector<NightVerdict> night_verdicts(const models::StationParts* parts, const sim::Tracks& recording,
                                         const sim::EventWindow& window);

} // namespace needleturn
