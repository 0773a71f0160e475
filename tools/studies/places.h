/// What the verdict says of places other than the outlet of the valve, where limits ask for it: the pressure where water is
/// drawn, the velocity in pipes, the cavitation index of stages.
///
/// The index is a screening (models/laws/cavitation.h): of the pressures on both sides of the stage and that of vapour alone. It
/// knows neither the trim nor the size of the valve, and says nothing of noise.
#pragma once

#include "models/station_parts.h"
#include "scenarios/scenario.h"
#include "sim/recording.h"
#include "sim/surge.h"
#include "sim/tracks.h"
#include "tools/studies/verdict.h"

#include <cstddef>
#include <limits>
#include <string>
#include <vector>

namespace needleturn {

struct FastestWater {
    double velocity = 0; ///< m/s, at an end of a pipe, mean over its bore
    std::string pipe;    ///< empty: nothing flows
};

/// Of samples [begin, end) of a recording that has the flows at both ends of every pipe.
FastestWater fastest_water(const models::StationParts& parts, const sim::Tracks& recording, std::size_t begin,
                           std::size_t end);

struct LowestCavitationIndex {
    double index =
        std::numeric_limits<double>::quiet_NaN(); ///< sigma; NaN: no stage passes more than a trickle
    std::string stage;
};

/// Of the same, only while a stage passes more than a thousandth of what it would wide open at 1 bar: a shut valve does not
/// cavitate.
LowestCavitationIndex lowest_cavitation_index(const models::StationParts& parts, const sim::Tracks& recording,
                                              std::size_t begin, std::size_t end);

/// The signals that measure_places reads, by the limits that `scenario` states.
std::vector<std::string> place_signals(const scenarios::Scenario& scenario);

/// The pressure point at which the consumer `name` of scenarios::visit_demands draws.
std::string point_of_outlet(const scenarios::Scenario& scenario, const std::string& name);

/// Adds to an event what the limits of `scenario` ask of its window; of pipes and stages only where their `parts` are given.
void measure_places(EventVerdict& verdict, const scenarios::Scenario& scenario,
                    const models::StationParts* parts, const sim::Tracks& recording,
                    const sim::EventWindow& window, double interval);

/// The columns that limits of `accept` are held against, beside those that every verdict has.
void add_place_columns(sim::Table& table, const std::vector<EventVerdict>& verdict,
                       const scenarios::Accept& accept);

} // namespace needleturn
