/// Runs of many scenarios on one thread, side by side in lanes where their stations have one form: what sweep and window run by.
#pragma once

#include "models/station_parts.h"
#include "scenarios/build.h"
#include "scenarios/scenario.h"
#include "tools/studies/simulate.h"

#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// Whether a run of `other` can be in a lane beside runs of a station of the parts `base`: both have one form, so the same states
/// and equations, and nobody puts air into a cover on the way.
bool side_by_side(const models::StationParts& base, const scenarios::Installation& other);

/// A run that a study wants.
struct WantedRun {
    std::size_t number = 0; ///< the study's own, that finds its place for what comes of it
    scenarios::Scenario scenario;
    bool alone = false; ///< with the bits that `simulate` gives
};

/// Where the runs of one thread come from and go to.
struct RunTraffic {
    std::function<std::optional<WantedRun>()> next; ///< none: there are no more
    /// What a run records, as for simulate.
    std::function<std::vector<std::string>(const scenarios::Scenario&)> signals;
    std::function<bool(std::size_t number, Outcome)> done; ///< false: no more, please
    std::function<bool()> go_on; ///< asked now and then; once it says false no more is begun nor finished
};

/// Runs what it is given until there is no more or no more is wanted: in lanes beside stations of the parts `form`, or one after the
/// other where a run cannot be in a lane. A run that cannot be started or finished says why in record.failure. What comes of a run
/// depends on the run alone, not on the others nor on the machine; of one in a lane it is that of `simulate` but for rounding
/// (sim/lanes.h). `lanes`: 2, 4 or 8, no more than the processor holds; 0: as many as it holds; 1: each alone.
void run_side_by_side(const models::StationParts& form, const RunTraffic& traffic, std::size_t lanes = 0);

} // namespace needleturn
