#include "sim/hunting.h"

#include "sim/swings.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numeric>
#include <stdexcept>
#include <vector>

namespace needleturn::sim {
namespace {

/// Six swings have 720 orders, so that they do not fall or rise throughout by chance.
constexpr std::size_t least_swings_of_tail = 6;
/// A signal is quiet after this many periods without a swing...
constexpr double quiet_periods = 3;
/// ...and this many times the longest earlier pause.
constexpr double quiet_pauses = 2;
/// Rank correlation of a trend, at least: a ring has -1, two modes ringing down together still pass. Also at
/// least so many standard deviations of the correlation of as many unordered cycles (not swings: neighbours
/// share a stroke). Tried on windows of 12 to 80 cycles whose amplitude varies at random by +-60 %: 0.2 % are
/// called ringing down, as many growing; with 5 to 8 cycles 3 %.
constexpr double least_correlation = 0.6;
constexpr double significance = 2.5;
/// Change of the largest swing from third to third: more than a well integrated limit cycle wanders by.
const double least_change = -std::log(0.97);
/// Spread of the last third against the change from third to third: 1 for a ring or exponential growth with
/// many cycles, 1/2 with two swings per third, 0 on the limit cycle.
constexpr double flat = 1.0 / 3;
/// What the last third of a window does, against the first third and against the middle one, when an oscillation of no
/// one size dies away.
constexpr double half_gone = 0.5;
constexpr double still_falling = 0.8;
/// The decay of a ring counts from the last swing that is no smaller than this fraction of the tail's
/// largest.
constexpr double departure = 0.9;
/// Of the range of the signal: a great swing. So much larger than the median swing, and so evenly spaced, great swings are the
/// oscillation and the rest is what happens between them.
constexpr double great = 0.6;
constexpr double much_larger = 1.5;
constexpr double evenly = 1.5;
/// A trend is of all pairs of swings; more swings than this are gathered in groups, by the largest of each.
constexpr std::size_t most_swings_of_trend = 256;
double median_size(std::span<const Mark> swings) {
    std::vector<double> sizes;
    for (const Mark& swing : swings)
        sizes.push_back(swing.value);
    return median(std::move(sizes));
}

double largest(std::span<const Mark> swings) { return std::ranges::max(swings, {}, &Mark::value).value; }
double smallest(std::span<const Mark> swings) { return std::ranges::min(swings, {}, &Mark::value).value; }

/// The later half of the time between the first and the last swing.
std::span<const Mark> tail_of(std::span<const Mark> swings) {
    const double middle = 0.5 * (swings.front().time + swings.back().time);
    const auto first = std::ranges::lower_bound(swings, middle, {}, &Mark::time);
    const auto later = static_cast<std::size_t>(swings.end() - first);
    return swings.last(std::min(swings.size(), std::max(later, least_swings_of_tail)));
}

/// Samples between turning points of one side.
double period_of(std::span<const Mark> swings) {
    std::vector<double> spacings;
    for (std::size_t i = 2; i < swings.size(); ++i)
        spacings.push_back(swings[i].time - swings[i - 2].time);
    return median(std::move(spacings));
}

/// Has no swing reached the threshold for long enough at the end of a window of `size` samples?
bool quiet_at_end(std::span<const Mark> swings, double threshold, double period, std::size_t size) {
    double last = -1;
    double pause = 0;
    for (const Mark& swing : swings)
        if (swing.value >= threshold) {
            if (last >= 0)
                pause = std::max(pause, swing.time - last);
            last = swing.time;
        }
    return static_cast<double>(size) - last > std::max(quiet_periods * period, quiet_pauses * pause);
}

struct Trend {
    double slope = 0;       ///< of the logarithm of the swing, per period
    double correlation = 0; ///< Kendall's, -1 to 1
    double least = 1;       ///< correlation from which on it is significant
};

Trend trend_of(std::span<const Mark> swings, double period) {
    const std::size_t group = (swings.size() + most_swings_of_trend - 1) / most_swings_of_trend;
    std::vector<Mark> logs;
    for (std::size_t i = 0; i < swings.size(); i += group) {
        const auto members = swings.subspan(i, std::min(group, swings.size() - i));
        const Mark top = std::ranges::max(members, {}, &Mark::value);
        logs.push_back({top.time / period, std::log(top.value)});
    }
    std::vector<double> slopes;
    double concordance = 0;
    for (std::size_t j = 1; j < logs.size(); ++j)
        for (std::size_t i = 0; i < j; ++i) {
            const double change = logs[j].value - logs[i].value;
            concordance += change > 0 ? 1 : change < 0 ? -1 : 0;
            slopes.push_back(change / (logs[j].time - logs[i].time));
        }
    if (slopes.empty())
        return {};
    const double n = 0.5 * static_cast<double>(logs.size());                 // cycles
    const double deviation = std::sqrt(2 * (2 * n + 5) / (9 * n * (n - 1))); // of the correlation; Kendall
    Trend trend;
    trend.correlation = concordance / static_cast<double>(slopes.size());
    trend.least = std::min(1.0, std::max(least_correlation, significance * deviation));
    trend.slope = median(std::move(slopes));
    return trend;
}

/// The tail in thirds, and how the logarithm of the largest swing changes from the first to the second to the
/// third.
struct Thirds {
    explicit Thirds(std::span<const Mark> tail) : last{tail.last((tail.size() + 2) / 3)} {
        const auto rest = tail.first(tail.size() - last.size());
        const double middle = largest(rest.subspan(rest.size() / 2));
        first_change = std::log(middle / largest(rest.first(rest.size() / 2)));
        second_change = std::log(largest(last) / middle);
    }
    bool gone_flat() const {
        return std::log(largest(last) / smallest(last)) < 0.5 * flat * std::abs(first_change + second_change);
    }

    std::span<const Mark> last;
    double first_change;
    double second_change;
};

/// `ringing_down`, `growing` or `sustained`, for swings that last to the end of the window.
Hunting::Kind kind_of(const Thirds& thirds, const Trend& trend) {
    if (std::abs(trend.correlation) < trend.least || thirds.gone_flat())
        return Hunting::Kind::sustained;
    if (trend.slope < 0 && std::max(thirds.first_change, thirds.second_change) <= -least_change)
        return Hunting::Kind::ringing_down;
    if (trend.slope > 0 && std::min(thirds.first_change, thirds.second_change) >= least_change)
        return Hunting::Kind::growing;
    return Hunting::Kind::sustained;
}

/// The tail from where a decaying oscillation leaves its largest swings.
std::span<const Mark> decay_of(std::span<const Mark> tail) {
    const double top = departure * largest(tail);
    const auto last =
        std::find_if(tail.rbegin(), tail.rend(), [&](const Mark& swing) { return swing.value >= top; });
    const auto left = static_cast<std::size_t>(last - tail.rbegin()) + 1;
    return tail.last(std::min(tail.size(), std::max(left, least_swings_of_oscillation)));
}

double range(std::span<const double> stretch) {
    const auto [low, high] = std::ranges::minmax(stretch);
    return high - low;
}

/// The great swings of a relaxation oscillation; empty where they are too few, fade, or come at odd times, as loud stretches of
/// a beat or of noise do.
std::vector<Mark> relaxation_swings(std::span<const double> rest) {
    const double least = great * range(rest.last(rest.size() - rest.size() / 2));
    if (!(least > 0))
        return {};
    auto swings = swings_between(turning_points(rest, std::vector<double>(rest.size(), least)));
    if (swings.size() < least_swings_of_oscillation)
        return {};
    double shortest = std::numeric_limits<double>::infinity(), longest = 0;
    for (std::size_t i = 2; i < swings.size(); ++i) {
        shortest = std::min(shortest, swings[i].time - swings[i - 2].time);
        longest = std::max(longest, swings[i].time - swings[i - 2].time);
    }
    const bool even = longest < evenly * shortest && smallest(swings) > great * largest(swings);
    const bool to_the_end = static_cast<double>(rest.size()) - swings.back().time < evenly * longest;
    return even && to_the_end ? swings : std::vector<Mark>{};
}

/// Does less and less happen, third by third and to the very end? Where several oscillations ring down together their
/// swings are of no one size and too few for a rank test, but none of them lasts.
bool dies_away(std::span<const double> rest) {
    const std::size_t third = rest.size() / 3, sixth = rest.size() / 6;
    const double first = range(rest.first(third)), middle = range(rest.subspan(third, third)),
                 last = range(rest.last(third));
    return last < half_gone * first && last < still_falling * std::min(first, middle)
           && range(rest.last(sixth)) < still_falling * range(rest.last(2 * sixth).first(sixth));
}

/// Median difference between the values `apart` places apart among every other turning point, from number `first` on.
double difference(std::span<const Mark> turns, std::size_t first, std::size_t apart) {
    std::vector<double> differences;
    for (std::size_t i = first; i + 2 * apart < turns.size(); i += 2)
        differences.push_back(std::abs(turns[i + 2 * apart].value - turns[i].value));
    return median(std::move(differences));
}

/// How crests and troughs follow one another; sim/hunting.h, "Pattern".
Hunting::Pattern pattern_of(std::span<const Mark> turns, double span) {
    constexpr std::size_t least_turns = 8; // two differences of every other crest, and of every other trough
    constexpr double alike = 0.1, closes = 0.25;
    if (turns.size() < least_turns)
        return Hunting::Pattern::regular;
    const std::size_t side = difference(turns, 0, 1) > difference(turns, 1, 1) ? 0 : 1;
    const double neighbours = difference(turns, side, 1);
    if (neighbours < alike * span)
        return Hunting::Pattern::regular;
    return difference(turns, side, 2) < closes * neighbours ? Hunting::Pattern::period_doubled
                                                            : Hunting::Pattern::irregular;
}

void require_valid(std::span<const double> signal, double interval, double threshold) {
    if (!(interval > 0) || !(threshold > 0))
        throw std::invalid_argument("hunting: the sampling interval and the threshold must be positive");
    if (!std::ranges::all_of(signal, [](double x) { return std::isfinite(x); }))
        throw std::invalid_argument("hunting: the signal holds a value that is not finite");
}

} // namespace

std::vector<Swing> swings_of(std::span<const double> signal, double interval, double threshold) {
    require_valid(signal, interval, threshold);
    std::vector<Swing> swings;
    if (!signal.empty())
        for (const Mark& swing : swings_between(turning_points(without_drift(signal), threshold)))
            swings.push_back({swing.time * interval, swing.value});
    return swings;
}

Hunting find_hunting(std::span<const double> signal, double interval, double threshold) {
    require_valid(signal, interval, threshold);
    Hunting hunting;
    if (signal.empty())
        return hunting;
    const std::vector<double> rest = without_drift(signal);
    const std::vector<Mark> turns = turning_points(rest, threshold);
    const std::vector<Mark> swings = swings_between(turns);
    if (swings.empty())
        return hunting;
    const std::size_t strong = count_from(swings, threshold);
    hunting.peak_to_peak_max = largest(swings);
    hunting.cycles = (strong + 1) / 2;
    if (strong < least_swings_of_oscillation)
        return hunting;

    const auto tail = tail_of(swings);
    const double period = period_of(tail);
    const bool quiet = quiet_at_end(swings, threshold, period, signal.size());
    Trend trend = trend_of(tail, period);
    const Thirds thirds{tail};
    hunting.kind = quiet ? Hunting::Kind::ringing_down : kind_of(thirds, trend);
    if (hunting.kind == Hunting::Kind::sustained && !thirds.gone_flat() && dies_away(rest))
        hunting.kind = Hunting::Kind::ringing_down;
    if (hunting.kind == Hunting::Kind::ringing_down)
        trend = trend_of(decay_of(tail), period);
    else if (thirds.gone_flat())
        trend = trend_of(thirds.last, period);
    hunting.frequency = 1 / (period * interval);
    hunting.log_decrement = -trend.slope;

    const bool swings_to_the_end =
        static_cast<double>(signal.size()) - tail.back().time <= quiet_periods * period;
    if (!quiet || swings_to_the_end) {
        hunting.peak_to_peak = median_size(thirds.last);
        hunting.span = range(std::span(rest).subspan(static_cast<std::size_t>(thirds.last.front().time)));
    }
    if (!hunting.hunts())
        return hunting;
    const auto of_tail = std::ranges::lower_bound(turns, tail.front().time, {}, &Mark::time);
    hunting.pattern =
        pattern_of(std::span(turns).last(static_cast<std::size_t>(turns.end() - of_tail)), hunting.span);
    if (const auto relaxing = relaxation_swings(rest); !relaxing.empty())
        if (const double size = median_size(relaxing); size > much_larger * hunting.peak_to_peak) {
            hunting.peak_to_peak = hunting.span = size;
            hunting.pattern =
                Hunting::Pattern::regular; // the small swings between the great ones belong to its cycle
            hunting.frequency = 1 / (period_of(relaxing) * interval);
        }
    return hunting;
}

const char* name(Hunting::Kind kind) {
    switch (kind) {
    case Hunting::Kind::none:
        return "none";
    case Hunting::Kind::ringing_down:
        return "ringing down";
    case Hunting::Kind::sustained:
        return "sustained";
    case Hunting::Kind::growing:
        return "growing";
    }
    throw std::logic_error("hunting: not a kind");
}

const char* name(Hunting::Pattern pattern) {
    switch (pattern) {
    case Hunting::Pattern::regular:
        return "regular";
    case Hunting::Pattern::period_doubled:
        return "period-doubled";
    case Hunting::Pattern::irregular:
        return "irregular";
    }
    throw std::logic_error("hunting: not a pattern");
}

} // namespace needleturn::sim
