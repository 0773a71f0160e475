#include "sim/fate.h"

#include "sim/hunting.h"

#include <array>
#include <cmath>
#include <span>
#include <stdexcept>

namespace needleturn::sim {
namespace {

constexpr double periods_of_stretch = 10;
/// Fewer cycles than this in a stretch, and its span says little: it is made longer.
constexpr double least_cycles = 6;
/// Of the threshold: a motion so small rests.
constexpr double well_below = 0.25;
/// Spans this far below the threshold are what the stepper's tolerance leaves, not motion.
constexpr double nothing = 1e-5;
/// In the logarithm, of a small motion: what has not grown while it would have grown by this does not grow.
const double outlasted = std::log(1 / nothing);
/// From stretch to stretch a span that falls by less than this in the logarithm does not fall.
constexpr double falling = 1e-3;
/// A decay at the rate of the slowest mode, within this share of it.
constexpr double at_rate = 0.1;
/// A change that shrinks by less than this from stretch to stretch foretells nothing.
constexpr double shrinking = 0.9;
/// Of what counts as settled: three changes so small foretell nothing, and need not.
constexpr double as_good_as_none = 0.03;
/// A span that is so much more than the median swing is not of one oscillation alone.
constexpr double uneven = 1.2;
/// Stretches over which irregular hunting is judged; eight in no order have |Kendall's correlation| above 0.5 one time in
/// ten (tables of Kendall, Rank Correlation Methods; from memory), and then it goes on for longer.
constexpr std::size_t many = 8;
constexpr double no_trend = 0.5;
/// Of that many in no order two thirds are higher or lower than both neighbours, here 4 +- 1 (J. Bienayme, Bull. Soc. Math.
/// France 2:153, 1874; from memory): what grows or decays smoothly beside one odd stretch has fewer.
constexpr int least_turns = 3;
/// Of the median span: a stretch that spans more is what is left of a disturbance.
constexpr double odd = 3;

double log_change(double before, double after) { return std::log(after / before); }

double middle(std::vector<double> values) {
    const auto half = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), half, values.end());
    return *half;
}

} // namespace

const char* name(Fate::Kind kind) {
    switch (kind) {
    case Fate::Kind::rests:
        return "rests";
    case Fate::Kind::cycles:
        return "cycles";
    case Fate::Kind::undecided:
        return "undecided";
    }
    throw std::logic_error("fate: not a kind");
}

FateJudge::FateJudge(FateQuestion question) : question_{std::move(question)} {
    auto& asked = question_;
    if (!(asked.threshold > 0) || !(asked.period > 0) || !(asked.longest > 0) || !(asked.settled > 0))
        throw std::invalid_argument(
            "fate: threshold, period, longest time and what counts as settled must be above 0");
    if (!(asked.interval > 0))
        asked.interval = asked.period / 256;
    if (!(asked.longest_step > 0))
        asked.longest_step = asked.period / 20;
    fate_.lowest = std::numeric_limits<double>::infinity();
    fate_.highest = -fate_.lowest;
    const double samples = std::min(periods_of_stretch * asked.period, asked.longest) / asked.interval;
    begin_stretch(std::max<std::size_t>(2, static_cast<std::size_t>(std::ceil(samples))));
}

void FateJudge::begin_stretch(std::size_t samples) {
    samples_ = samples;
    watched_.clear();
    also_lowest_.assign(question_.also.size(), std::numeric_limits<double>::infinity());
    also_highest_.assign(question_.also.size(), -std::numeric_limits<double>::infinity());
}

bool FateJudge::add(double watched, const std::vector<double>& also) {
    watched_.push_back(watched);
    fate_.lowest = std::min(fate_.lowest, watched);
    fate_.highest = std::max(fate_.highest, watched);
    for (std::size_t i = 0; i < also.size(); ++i) {
        also_lowest_[i] = std::min(also_lowest_[i], also[i]);
        also_highest_[i] = std::max(also_highest_[i], also[i]);
    }
    fate_.time = static_cast<double>(taken_++) * question_.interval;
    return watched_.size() >= samples_ && end_stretch();
}

FateJudge::Stretch FateJudge::measured() const {
    Stretch stretch;
    const auto [low, high] = std::ranges::minmax(watched_);
    stretch.lowest = low;
    stretch.highest = high;
    stretch.span = high - low;
    stretch.also_lowest = also_lowest_;
    stretch.also_highest = also_highest_;
    // Oscillation is looked for below the threshold as well: it settles more slowly than a drift.
    const double least = std::min(question_.threshold, 0.5 * stretch.span);
    if (!(least > nothing * question_.threshold))
        return stretch;
    const auto hunting = find_hunting(watched_, question_.interval, least);
    stretch.oscillates = hunting.kind != Hunting::Kind::none;
    stretch.swing = hunting.peak_to_peak;
    stretch.frequency = hunting.frequency;
    return stretch;
}

bool FateJudge::end_stretch() {
    const auto stretch = measured();
    past_.push_back(stretch);
    auto kind = decided();
    const bool over = fate_.time >= question_.longest;
    if (!kind && over && stays_small())
        kind = Fate::Kind::rests;
    if (kind || over) {
        tell(stretch, kind);
        return true;
    }
    begin_stretch(samples_);
    lengthen(stretch);
    return false;
}

void FateJudge::stop() {
    if (past_.empty())
        past_.push_back(measured());
    tell(past_.back(), std::nullopt);
}

/// A slower oscillation than was expected needs longer stretches, and those before say nothing about them.
void FateJudge::lengthen(const Stretch& last) {
    const double length = static_cast<double>(samples_) * question_.interval;
    constexpr double most = 0.1; // of the longest time
    if (last.span < question_.threshold || length > most * question_.longest)
        return;
    const double cycles = last.frequency * length;
    const bool stays = past_.size() > 1 && last.span > 0.7 * past_[past_.size() - 2].span;
    double factor = 1;
    if (last.oscillates && cycles > 0 && cycles < least_cycles)
        factor = std::min(4.0, periods_of_stretch / cycles);
    else if (!last.oscillates && stays)
        factor = 2;
    if (factor > 1) {
        past_.clear();
        begin_stretch(static_cast<std::size_t>(factor * static_cast<double>(samples_)));
    }
}

/// What changes that shrink by the same share from stretch to stretch will still add to the last span; empty where they do
/// not shrink so.
std::optional<double> FateJudge::still_to_come() const {
    const std::size_t n = past_.size();
    if (n < 4)
        return std::nullopt;
    std::array<double, 3> change{};
    for (std::size_t i = 0; i < 3; ++i)
        change[i] = past_[n - 3 + i].span - past_[n - 4 + i].span;
    const double exact = as_good_as_none * question_.settled * past_[n - 1].span;
    if (std::ranges::all_of(change, [exact](double x) { return std::abs(x) < exact; }))
        return change[2];
    const double earlier = std::abs(change[1] / change[0]), later = std::abs(change[2] / change[1]);
    // Where the shares themselves rise, as they do on the way to a fold, the next is taken to have risen as much again.
    const double ratio = later + std::max(0.0, later - earlier);
    return ratio < shrinking ? std::optional(change[2] * ratio / (1 - ratio)) : std::nullopt;
}

/// Has the span settled on one value?
bool FateJudge::has_settled() const {
    const auto& last = past_.back();
    const auto rest = still_to_come();
    const double allowed = question_.settled * last.span;
    if (!rest || !last.oscillates || !(std::abs(*rest) < allowed))
        return false;
    if (last.span < uneven * last.swing)
        return true;
    // Swings of several sizes may agree by chance for a while.
    return past_.size() >= many && std::all_of(past_.end() - many, past_.end(), [&](const Stretch& one) {
               return std::abs(one.span - last.span) < allowed;
           });
}

bool FateJudge::comes_to_rest() const {
    const std::size_t n = past_.size();
    const double last = past_[n - 1].span;
    const double threshold = question_.threshold;
    if (grows())
        return false;
    if (last <= nothing * threshold)
        return true;
    if (n < 2)
        return false;
    const double change = log_change(past_[n - 2].span, last);
    // Where the growth of the steady state is not known, one smaller span is not enough: two in a row are asked for.
    const bool falls =
        change < -falling
        && (question_.growth || (n > 2 && log_change(past_[n - 3].span, past_[n - 2].span) < -falling));
    if (last < well_below * threshold && falls)
        return true;
    if (!question_.growth || n < 4 || last > threshold)
        return false;
    const double expected = *question_.growth * static_cast<double>(samples_) * question_.interval;
    for (std::size_t i = n - 3; i < n; ++i)
        if (std::abs(log_change(past_[i - 1].span, past_[i].span) - expected) > at_rate * std::abs(expected))
            return false;
    return true;
}

/// Would a small motion have grown beyond measure in the time from the end of the first to that of the last of so many
/// stretches at the end?
bool FateJudge::outlasts_growth(std::size_t stretches) const {
    const double time = static_cast<double>((stretches - 1) * samples_) * question_.interval;
    return *question_.growth * time > outlasted;
}

/// Stretches at the end whose spans are as good as the last; at least the four that told that it settled.
std::size_t FateJudge::unchanged() const {
    const double allowed = question_.settled * past_.back().span;
    const auto other = std::find_if(past_.rbegin(), past_.rend(), [&](const Stretch& one) {
        return std::abs(one.span - past_.back().span) > allowed;
    });
    return std::max<std::size_t>(4, static_cast<std::size_t>(other - past_.rbegin()));
}

/// Small motions grow, yet a motion below the threshold, and be it uneven, takes the last half of all stretches, which outlasts
/// that. What does not move at all has nothing that could grow.
bool FateJudge::stays_small() const {
    const std::size_t half = past_.size() / 2;
    return grows() && half > 1 && outlasts_growth(half)
           && std::all_of(
               past_.end() - static_cast<std::ptrdiff_t>(half), past_.end(), [&](const Stretch& one) {
                   return one.span > nothing * question_.threshold && one.span < question_.threshold;
               });
}

/// Over the last many stretches, each with oscillation, the span neither rises nor falls.
bool FateJudge::irregular_for_good() const {
    if (past_.size() < many)
        return false;
    const std::span<const Stretch> last(past_.data() + (past_.size() - many), many);
    double concordance = 0;
    double sums[2] = {0, 0}, squares = 0, all = 0;
    for (std::size_t i = 0; i < many; ++i) {
        const double span = last[i].span;
        if (!last[i].oscillates || span < question_.threshold)
            return false;
        sums[i < many / 2 ? 0 : 1] += span;
        all += span;
        squares += span * span;
        for (std::size_t j = 0; j < i; ++j)
            concordance += span > last[j].span ? 1 : span < last[j].span ? -1 : 0;
    }
    int turns = 0;
    std::vector<double> spans;
    for (std::size_t i = 0; i < many; ++i) {
        spans.push_back(last[i].span);
        if (i > 0 && i + 1 < many)
            turns += (last[i].span > last[i - 1].span) == (last[i].span > last[i + 1].span) ? 1 : 0;
    }
    if (turns < least_turns || std::ranges::max(spans) > odd * middle(spans))
        return false;
    constexpr double count = many, pairs = 0.5 * count * (count - 1);
    const double deviation = std::sqrt(std::max(0.0, squares / count - all * all / (count * count)));
    return std::abs(concordance) <= no_trend * pairs && std::abs(sums[0] - sums[1]) <= count / 2 * deviation;
}

std::optional<Fate::Kind> FateJudge::decided() const {
    if (comes_to_rest())
        return Fate::Kind::rests;
    const auto& last = past_.back();
    if (has_settled()) {
        if (last.span >= question_.threshold)
            return Fate::Kind::cycles;
        // On a cycle that is too small to count, and not at the beginning of growth.
        if (!grows() || last.span > well_below * question_.threshold || outlasts_growth(unchanged()))
            return Fate::Kind::rests;
    }
    if (irregular_for_good())
        return Fate::Kind::cycles;
    return std::nullopt;
}

void FateJudge::tell(const Stretch& last, std::optional<Fate::Kind> kind) {
    fate_.kind = kind.value_or(Fate::Kind::undecided);
    const auto rest = still_to_come();
    const bool settled = rest && std::abs(*rest) < question_.settled * last.span;
    fate_.irregular = kind == Fate::Kind::cycles && !(settled && last.span < uneven * last.swing);
    std::size_t told = fate_.irregular ? std::min(many, past_.size()) : 1;
    if (kind == Fate::Kind::rests && grows() && !settled) // stays_small
        told = past_.size() / 2;
    double low = last.lowest, high = last.highest;
    auto also_low = last.also_lowest, also_high = last.also_highest;
    std::vector<double> swings, frequencies;
    for (auto stretch = past_.end() - static_cast<std::ptrdiff_t>(told); stretch != past_.end(); ++stretch) {
        low = std::min(low, stretch->lowest);
        high = std::max(high, stretch->highest);
        swings.push_back(stretch->swing);
        frequencies.push_back(stretch->frequency);
        for (std::size_t i = 0; i < also_low.size(); ++i) {
            also_low[i] = std::min(also_low[i], stretch->also_lowest[i]);
            also_high[i] = std::max(also_high[i], stretch->also_highest[i]);
        }
    }
    fate_.span = high - low;
    if (last.oscillates && fate_.span >= question_.threshold) {
        fate_.peak_to_peak = middle(swings);
        fate_.frequency = middle(frequencies);
    }
    for (std::size_t i = 0; i < also_low.size(); ++i)
        fate_.spans.push_back(also_high[i] - also_low[i]);
}

} // namespace needleturn::sim
