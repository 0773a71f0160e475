/// How main valves that stand side by side share the flow, as an event of a run ends.
#pragma once

#include "scenarios/scenario.h"
#include "sim/surge.h"
#include "sim/tracks.h"

#include <string>
#include <vector>

namespace needleturn {

/// What one stage carries, pilot system included: the mean over the last tenth of the event.
struct StageLoad {
    std::string name;
    double flow = 0;   ///< m3/s
    double before = 0; ///< m3/s, the same over the tenth before that
};

/// Of the stages of the station, a first step's aside; none where fewer than two of them have a pilot, or the recording does not tell.
std::vector<StageLoad> shared_load(const scenarios::Scenario& scenario, const sim::Tracks& recording,
                                   const sim::EventWindow& window);

/// Do the shares still change, while all together they carry what they did? One valve takes over from another for minutes, and a
/// gauge on the outlet does not show it.
bool still_shifting(const std::vector<StageLoad>& loads);

} // namespace needleturn
