/// What started the surge of an event: the change of velocity that was made, where, and what a sudden change of the same
/// size would do to the pressure there.
///
///     dp = -rho a dv  at the downstream end of a pipe,   dp = +rho a dv  at its upstream end
///
/// N. Joukowsky (1898); the sign from the characteristics of models/upwind.h, equation (23).
#pragma once

#include "models/station.h"
#include "sim/tracks.h"

#include <cstddef>
#include <string>

namespace needleturn {

/// Samples of one event.
struct SurgeWindow {
    std::size_t before = 0, start = 0, ramp_end = 0, end = 0;
    double interval = 0; ///< s
    double time(std::size_t k) const { return static_cast<double>(k - start) * interval; }
};

/// A quantity that does not apply is NaN, a name empty.
struct SurgeStart {
    /// What a sudden change of pressure cannot pass.
    enum class Bound {
        none,
        vapour, ///< water parts before it pulls
        source  ///< an open source sets the pressure itself: the wave is as high as its own step
    };

    /// m/s, of the water at that end of the pipe that starts the surge: at the consumer that changes most, at the source when
    /// that changes, beside the station when a hand turns something there. A change that is made before a wave is back from
    /// the other end is the water's own by then; what a vessel or a valve lets the water do later than the hand counts with
    /// the time that the water takes.
    double velocity_change = 0;
    std::string pipe;
    std::string at;             ///< the point at that end of the pipe; "source"
    std::string reflected_from; ///< "the station", "the source", "the far end"
    double before = 0;          ///< Pa gauge, there, when the event begins
    /// Pa, what the formula gives for `velocity_change`; negative: the pressure falls. Of a consumer's change that is slow: for all that
    /// the consumer changes, were it sudden, shared by the pipes that meet there.
    double joukowsky = 0;
    double sudden_change = 0; ///< Pa, the same within its bound
    Bound bound = Bound::none;
    double round_trip = 0; ///< s, 2L/a of the line from there to where the wave is sent back
    double duration = 0;   ///< s, until 95 % of it is made, no less than the event's own change takes
    bool fast() const { return duration < round_trip; }
};

/// Of one event, from the flows and drives recorded.
SurgeStart find_start(const models::Station& station, const sim::Tracks& recording, const SurgeWindow& window,
                      double duration);

/// "", "vapour pressure", "the source".
std::string name(SurgeStart::Bound bound);

/// The signal of the flow in a cell of a pipe, counted from 1.
std::string flow_signal(const models::PipeRun& run, std::size_t cell);

} // namespace needleturn
