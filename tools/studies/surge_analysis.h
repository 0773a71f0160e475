/// What each event sent along the line: extremes and times of arrival at every pressure point, what started it,
/// column separation, cavitation of the stages, velocities in the pipes.
#pragma once

#include "models/laws/cavitation.h"
#include "models/station.h"
#include "scenarios/scenario.h"
#include "sim/recording.h"
#include "sim/tracks.h"
#include "tools/studies/surge_start.h"
#include "tools/studies/verdict.h"

#include <cstddef>
#include <limits>
#include <string>
#include <vector>

namespace needleturn {

/// At one pressure point. Pressures in Pa gauge, times in s from the event's start. What does not apply is NaN.
struct PointSurge {
    std::string point;
    double before = 0; ///< when the event begins
    double highest = 0, highest_at = 0;
    double lowest = 0, lowest_at = 0;
    /// When the pressure has first moved by a tenth of its largest move; NaN: it never moves 2 kPa.
    double arrival = 0;
    double overshoot = 0;     ///< beyond the value settled to
    double settling_time = 0; ///< infinity: not within the window
    double cavity = 0;        ///< m3, largest gas volume while the column is parted; 0: it never parts
    double parted_at = 0;     ///< when it first parts; NaN: never
    double parted_for = 0;    ///< in all
    /// Pa, within which the number of cells leaves highest and lowest (surge_bound.h, second_grid.h); NaN: not known.
    double highest_spread = std::numeric_limits<double>::quiet_NaN();
    double lowest_spread = std::numeric_limits<double>::quiet_NaN();
};

/// Where a column parts inside a pipe, its ends aside.
struct PipeCavity {
    std::string pipe;
    double cavity = 0; ///< m3, largest gas volume of all its parted cells
    double parted_at = 0;
    double parted_for = 0;
    double from = 0, to = 0; ///< m from its upstream end, between which it parts at some time of the run
};

/// One event. A quantity that does not apply is NaN.
struct SurgeVerdict {
    std::vector<PointSurge> points;
    std::vector<PipeCavity> cavities; ///< of the pipes in which the column parts
    SurgeStart start;
    double velocity = 0; ///< m/s, highest at an end of any pipe
    std::string fastest_pipe;
    double cavitation_index = 0; ///< sigma, the lowest while any stage passes water
    std::string cavitating_stage;
    std::size_t grids = 1; ///< 2: the spreads are from two runs, the second with twice as many cells
};

/// Velocity above which a pipe is reported, m/s: EN 806-3 allows 2.0 in mains and risers (from memory).
inline constexpr double usual_velocity_limit = 2.0;

/// One per event of `verdict`, from a recording of `station` sampled every `interval` s.
std::vector<SurgeVerdict> find_surges(const scenarios::Scenario& scenario, const models::Station& station,
                                      const sim::Tracks& recording,
                                      const std::vector<sim::PipeEnvelope>& envelopes,
                                      const std::vector<EventVerdict>& verdict, double interval);

/// A row for each event and point, and for each pipe in which the column parts.
sim::Table surge_table(const std::vector<SurgeVerdict>& surges);

/// "none", "incipient", "constant", "damaging": a screening by generic bands, no more.
std::string name(models::Cavitation band);

} // namespace needleturn
