/// What one event (a demand step, a needle change) does to a signal, in the terms of step responses:
/// overshoot and settling time as IEC 60050-351 (control technology) and IEEE 181 (transitions and pulses)
/// use them. The wording of both standards is from memory; the definitions that bind are those written here.
#pragma once

#include "sim/tracks.h"

#include <cstddef>

namespace needleturn::sim {

/// Where an event lies in a signal: indices of samples, before <= start <= ramp_end < end.
struct EventWindow {
    std::size_t before = 0;   ///< first sample of the stretch before the event; `start` if there is none
    std::size_t start = 0;    ///< the last sample before anything changes
    std::size_t ramp_end = 0; ///< the event's own change is complete
    std::size_t end = 0;      ///< one past the last sample that belongs to this event
};

/// In the signal's unit, and seconds from the event's start.
///
/// The value *settled to* in a stretch is the mean of its last quarter weighted by a Hann window. An
/// oscillation with three cycles in that quarter leaves 1.3 % of its amplitude in the mean, with ten 0.03 %,
/// whatever its phase.
struct Surge {
    double before = 0; ///< settled to between `before` and `start`; the sample at `start` if that is empty
    double after = 0;  ///< settled to between `ramp_end` and `end`
    double highest = 0;
    double highest_time = 0;
    double lowest = 0;
    double lowest_time = 0;
    /// How far the signal goes beyond `after` in the direction of the change, from the event's start on; not
    /// negative. If the change is within the band it has no direction: the larger excursion from `after` to
    /// either side.
    double overshoot = 0;
    double overshoot_fraction = 0; ///< of the change, |after - before|; NaN if that is within the band
    /// From the event's start until the signal enters after +-band for good, between samples by straight
    /// lines; 0 if it never leaves it. Infinity if it is outside in the last quarter of [ramp_end, end): it
    /// has not been seen to settle.
    double settling_time = 0;
    double steepest_rise = 0; ///< per second: largest mean rate over any `rise_time_base`, >= 0
};

/// s: so long that one sample is not the measure, and short against the period of a surge.
inline constexpr double rise_time_base = 0.01;

/// @param signal   the whole record, one value per `interval`
/// @param interval s, > 0
/// @param band     half width of the band to settle into, in the signal's unit, > 0
/// @throws std::invalid_argument for a window out of order or outside the signal,
///         an interval or band that is not positive, or a value that is not finite
Surge find_surge(const Track& signal, double interval, const EventWindow& window, double band);

/// The value settled to in the end, where nobody asks when; otherwise as find_surge.
double settled_to(const Track& signal, double interval, const EventWindow& window);

/// How far a signal first moves opposite to its eventual change, >= 0, in the signal's unit (the undershoot
/// of a system that is not of minimum phase). The eventual change is from the first sample to the value
/// settled to, as in Surge; "first" is until the signal has made half of it. 0 for a signal that does not
/// change. Looks at samples [begin, end). It says little where the eventual change is as small as the noise or the hunting on the signal.
double wrong_way(const Track& signal, std::size_t begin, std::size_t end);
inline double wrong_way(const Track& signal) { return wrong_way(signal, 0, signal.size()); }

} // namespace needleturn::sim
