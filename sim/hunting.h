/// Does a signal hunt? The verdict on one window of uniformly sampled values, from its turning points.
///
/// **Swings.** The straight line fitted to the later half of the window is removed, so that an oscillation on
/// a drift still turns round. A turning point is an extreme from which the signal comes back by a *least
/// swing*: half the threshold, or a third of what the signal does both up and down, both before and after,
/// where that is more; the latter passes over ripple riding on a larger oscillation. The *swing* at a turning
/// point is the mean of the rise and the fall that meet there, a peak-to-peak value in which a steady drift
/// cancels.
///
/// **Oscillation.** Three whole cycles must swing by the threshold or more. One overshoot is not an
/// oscillation. So the window has to be longer than about four periods, or the oscillation is not seen.
///
/// **What counts.** The later half of the time between the first and the last swing, called the tail: a
/// transient that decays into a small limit cycle is judged by the limit cycle. In this order:
///
/// 1. `ringing_down` when the signal is quiet at the end: no swing reached the threshold for more than three
///    periods and more than twice the longest pause before (which spares beats and bursts).
/// 2. `ringing_down` or `growing` when the swings of the tail have a trend. Kendall's rank correlation of
///    swing with time is significant (the test of Mann, Econometrica 13, 1945, and Kendall, Rank Correlation
///    Methods); the largest swing falls (rises) by 3 % or more from each third of the tail to the next; and
///    the last third has not gone flat, as it does where the oscillation has reached its limit cycle.
/// 3. `ringing_down` when the range of the signal falls from third to third of the window and to its very end, by half
///    or more in all: oscillations of several frequencies that die away together, as in a line of several pipes, have
///    swings of no one size.
/// 4. `sustained` otherwise: a limit cycle, a beat, irregular hunting. A window so short that several rings of different
///    lengths are all still alive at its end counts as sustained too.
///
/// **Relaxation.** A valve with much air in its cover may sit still for half a minute, drop the pressure and ring on the way
/// back. Where swings of 0.6 of the signal's range come at even intervals and are more than 1.5 times the median swing of the
/// tail, they are what hunts, and size and frequency are theirs.
///
/// **Pattern.** Of the crests in the tail, and of its troughs: d1, the median difference of neighbours, and d2, that of every
/// other one. `regular` when d1 is less than a tenth of the span on both sides; `period_doubled` when d2 is less than a
/// quarter of d1 on the side where d1 is larger; `irregular` otherwise.
///
/// **How slow a decay is seen.** The tail is half the window and has three thirds, each 3 % down: a decay is
/// told from a limit cycle when it takes at least 17 % off the swing over the window, that is, when
/// log_decrement * (cycles in the window) >= 6 ln(1/0.97) = 0.18. With 60 cycles that is a log decrement of
/// 0.003 (damping ratio 0.0005), with 6 cycles 0.03 (0.005). Anything slower is called sustained, since for
/// the length of the window it is; `log_decrement` tells its trend all the same. A beat is told from growth
/// or decay when the window holds two beats or more (a beat that itself rings down: four). A limit cycle
/// reached in the last twelfth of the window is not yet seen as one.
///
/// **Sampling.** With 16 samples per cycle the crests of a sine are found to 5e-4 of the swing and its
/// frequency to 3e-4; both errors fall at least with the square of the interval. A vibration with fewer than
/// about eight samples per cycle is misread (aliasing): sample finely.
///
/// **Not told apart.** Noise whose peak-to-peak passes the threshold counts as irregular hunting.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace needleturn::sim {

struct Hunting {
    enum class Kind {
        none,         ///< fewer than three cycles reach the threshold
        ringing_down, ///< an oscillation that dies away: not hunting
        sustained,
        growing
    };
    Kind kind = Kind::none;
    /// Median swing of the last third of the tail; 0 for none or when quiet at the end.
    double peak_to_peak = 0;
    /// Highest less lowest value over the same time, drift removed: what a needle sweeps. More than peak_to_peak where swings
    /// are of several sizes.
    double span = 0;
    /// How crest follows crest in the tail.
    enum class Pattern {
        regular,        ///< neighbouring crests are alike, to a tenth of the span
        period_doubled, ///< every other crest is: the cycle closes after two swings
        irregular       ///< neither
    };
    Pattern pattern = Pattern::regular;
    /// Largest swing of the whole window, the transient included.
    double peak_to_peak_max = 0;
    /// Hz, from the median time between turning points of one side in the tail; 0 for none.
    double frequency = 0;
    /// ISO 2041 (from memory): logarithm of the ratio of one cycle's amplitude to the next's; > 0 decays, < 0
    /// grows. Median slope (Sen, J. Am. Stat. Assoc. 63, 1968) over the tail; of a decaying oscillation from
    /// where it leaves its largest swing, of one that has reached its limit cycle over the last third.
    double log_decrement = 0;
    /// Whole cycles in the window that reach the threshold.
    std::size_t cycles = 0;

    /// Does it last to the end of the window?
    bool hunts() const { return kind == Kind::sustained || kind == Kind::growing; }
    /// What a limit is held against: peak_to_peak of a regular oscillation, the span of any other.
    double swing() const { return pattern == Pattern::regular ? peak_to_peak : span; }
};

/// @param signal    in any unit, one value per `interval`; the window after an event's own ramp
/// @param interval  s, > 0
/// @param threshold smallest peak-to-peak that counts as oscillation, in the signal's unit, > 0
/// @throws std::invalid_argument for an interval or threshold that is not positive, or a value that is not
/// finite
Hunting find_hunting(std::span<const double> signal, double interval, double threshold);

/// The swing at a turning point, as find_hunting sees it.
struct Swing {
    double time = 0; ///< s from the start of the window
    double size = 0; ///< in the signal's unit, peak to peak
};

/// The swings find_hunting judges by, in order of time; what a fit of growth or decay is drawn over. Parameters and
/// errors as for find_hunting.
std::vector<Swing> swings_of(std::span<const double> signal, double interval, double threshold);

/// "none", "ringing down", "sustained", "growing".
const char* name(Hunting::Kind kind);
/// "regular", "period-doubled", "irregular".
const char* name(Hunting::Pattern pattern);

} // namespace needleturn::sim
