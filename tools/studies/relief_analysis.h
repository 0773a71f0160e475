/// What a recording shows of relief valves: when each opens, for how long, what it lets out, whether it shuts again and chatters.
#pragma once

#include "scenarios/scenario.h"
#include "sim/surge.h"
#include "sim/tracks.h"

#include <cstddef>
#include <limits>
#include <string>
#include <vector>

namespace needleturn {

/// What an event shows of one relief valve. It is open while its disc stands off its seat.
struct ReliefVerdict {
    std::string name;
    double highest = 0;         ///< Pa gauge, where it stands
    double margin = 0;          ///< Pa, from there up to its set pressure
    bool open_at_start = false; ///< at the beginning of the event
    bool open_at_end = false;
    std::size_t openings = 0; ///< times it leaves its seat
    double opens_at =
        std::numeric_limits<double>::quiet_NaN(); ///< s of the run, the first time; NaN: it does not
    double shuts_at =
        std::numeric_limits<double>::quiet_NaN(); ///< s of the run, the last time; NaN: it does not
    double open_for = 0;                          ///< s, together
    double volume = 0;                            ///< m3 that it lets out
    double highest_lift = 0;                      ///< m
    double hardest = 0;                           ///< m/s, fastest arrival on its seat
    std::size_t swings =
        0; ///< times that the disc rises again by a tenth of its full lift after falling as far
    double frequency = 0; ///< Hz, of these swings, from the first to the last; 0: fewer than two

    bool opens() const { return open_at_start || openings > 0; }
    /// It leaves and strikes its seat again and again, or swings in the water without touching it: what API 520-1 calls chatter and
    /// flutter (from memory). "Again and again" is three times or more, "rapid" more than once a second: both chosen.
    bool moves_rapidly() const { return swings >= 3 && frequency > 1; }
    bool chatters() const { return moves_rapidly() && openings >= 3; }
    bool flutters() const { return moves_rapidly() && openings < 3; }
};

/// The signals that relief_verdicts reads.
std::vector<std::string> relief_signals(const scenarios::Scenario& scenario);

/// Of the samples of one event, every `interval` s, in the order of scenarios::visit_reliefs. Nothing where the recording does not
/// hold those signals.
std::vector<ReliefVerdict> relief_verdicts(const scenarios::Scenario& scenario, const sim::Tracks& recording,
                                           const sim::EventWindow& window, double interval);

} // namespace needleturn
