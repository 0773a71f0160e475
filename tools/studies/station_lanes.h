/// Runs of stations of one form (models/fields.h) side by side (sim/lanes.h), compiled for the widest vectors of the processor
/// it is run on. Each has hardware, pipes, water, drives, tolerance and time of its own.
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
    std::unique_ptr<StartedRun> run; ///< its station has the form of that of all
};

/// Where the runs of one thread come from and go to.
struct LaneTraffic {
    std::function<LaneRun()> next;                            ///< without a run: there are no more
    std::function<void(LaneRun, const sim::Counts&)> arrived; ///< at the end of its time
    std::function<void(LaneRun)> stuck;                       ///< no step is short enough
    std::function<bool()> go_on;                              ///< asked now and then
};

/// Takes runs until there are no more, or go_on says no. Every run gives the same bits on every processor, whatever runs
/// beside it. `station` is any of their form.
void run_in_lanes(const models::Station& station, const LaneTraffic& traffic);

/// The same with as many lanes as told: 2, 4 or 8, no more than sim::lanes_here.
void run_in_lanes(std::size_t lanes, const models::Station& station, const LaneTraffic& traffic);

} // namespace needleturn
