/// Runs of one station side by side (sim/lanes.h), compiled for the widest vectors of the processor it is run on.
#pragma once

#include "models/station.h"
#include "sim/recording.h"
#include "tools/studies/started_run.h"

#include <cstddef>
#include <functional>
#include <memory>

namespace needleturn {

/// A run in a lane, and which case it is.
struct LaneRun {
    std::size_t number = 0;
    std::unique_ptr<StartedRun> run; ///< its station has the parts of the station of all
};

/// Where the runs of one thread come from and go to.
struct LaneTraffic {
    std::function<LaneRun()> next;                            ///< without a run: there are no more
    std::function<void(LaneRun, const sim::Counts&)> arrived; ///< at the end of its time
    std::function<void(LaneRun)> stuck;                       ///< no step is short enough
    std::function<bool()> go_on;                              ///< asked now and then
};

/// Takes runs until there are no more, or go_on says no. Every run gives the same bits on every processor, whatever runs
/// beside it.
void run_in_lanes(const models::Station& station, double tolerance, const LaneTraffic& traffic);

/// The same with as many lanes as told: 2, 4 or 8, no more than sim::lanes_here.
void run_in_lanes(std::size_t lanes, const models::Station& station, double tolerance,
                  const LaneTraffic& traffic);

} // namespace needleturn
