/// What a recording shows of night settings: what the pilot is set to as an event ends.
#pragma once

#include "models/station_parts.h"
#include "sim/surge.h"
#include "sim/tracks.h"

#include <cmath>
#include <string>
#include <vector>

namespace needleturn {

/// Pa: nearer than this to one of its ends a night setting stands there; half of what a gauge shows.
inline constexpr double at_an_end = 1e3;

/// As an event leaves it.
struct NightVerdict {
    std::string stage;
    double setting = 0;                    ///< Pa, static set pressure at the end
    double goes_to = 0;                    ///< Pa, what it comes to with the flow of the end
    double above_night = 0, below_day = 0; ///< Pa, of `setting`

    /// It has not come to what it goes to.
    bool moves() const { return std::abs(goes_to - setting) > at_an_end; }
};

/// Of each stage that has one. Nothing where the parts are not known (null), or the recording does not tell.
std::vector<NightVerdict> night_verdicts(const models::StationParts* parts, const sim::Tracks& recording,
                                         const sim::EventWindow& window);

} // namespace needleturn
