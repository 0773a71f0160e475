/// What a recording shows of sustaining pilots: whether they hold the inlet up, and at what.
#pragma once

#include "models/station_parts.h"
#include "sim/surge.h"
#include "sim/tracks.h"

#include <string>
#include <vector>

namespace needleturn {

/// As an event leaves it, settled.
struct SustainingVerdict {
    std::string stage;
    double set = 0;    ///< Pa, of the inlet, static
    double inlet = 0;  ///< Pa gauge, between inlet cock and seat, where its diaphragm has it from
    double outlet = 0; ///< Pa gauge, behind the seat
    bool throttles =
        false; ///< less open than the reducing pilot: it decides how far the main valve stands open
};

/// Of the samples of one event, every `interval` s; of each stage that has one. Nothing where the parts are not known (null), or the
/// recording does not tell.
std::vector<SustainingVerdict> sustaining_verdicts(const models::StationParts* parts,
                                                   const sim::Tracks& recording,
                                                   const sim::EventWindow& window, double interval);

} // namespace needleturn
