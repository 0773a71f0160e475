/// What becomes of a motion while the drives stand still: does it come to rest, or go on for good?
///
/// The motion is carried on stretch by stretch of about ten periods. The *span* of a stretch, the highest less the lowest
/// watched value, is followed from stretch to stretch:
///
/// - **rests**: the span is well below the threshold, not growing, and the steady state there does not grow; or the motion
///   decays at the very rate of its slowest small motion, so that it is near the steady state and returns to it; or it has
///   settled on an oscillation below the threshold. Where small motions grow, that is told from the beginning of growth by
///   its size, or by time: it has stayed below the threshold for so long that a small motion would have grown 1e5-fold.
/// - **cycles**: the span is above the threshold with oscillation in every stretch, and has settled: from the last changes what
///   is still to come is extrapolated (A. C. Aitken, Proc. R. Soc. Edinburgh 46:289, 1926; from memory) and is less than
///   `settled` of the span. A decay that slows down and then quickens again, as it does beside the fold of a cycle, is not
///   settled. Irregular hunting never settles so: it cycles when over many stretches its span has no trend, by the rank
///   correlation of Kendall, and the two halves of them agree within their scatter.
/// - **undecided**: neither before `longest`, or stopped before.
///
/// No step is longer than a twentieth of the period: an L-stable method with long steps damps what grows.
#pragma once

#include "sim/recording.h"
#include "sim/rodas5p.h"

#include <Eigen/Core>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

namespace needleturn::sim {

struct FateQuestion {
    std::size_t watched = 0; ///< index of a value: states first, then drives (sim/contract/model.h)
    std::vector<std::size_t> also = {}; ///< other values whose spans are wanted
    double threshold = 0;               ///< of the watched value, > 0: peak to peak below it counts as rest
    double period = 0;                  ///< s, > 0: of the slowest oscillation that matters
    double longest = 0;                 ///< s, > 0: of motion, after which it is undecided
    /// 1/s: largest real part among the modes of the steady state that belongs to these drives; not known if empty.
    std::optional<double> growth = {};
    double settled =
        0.01; ///< of the span: what may still be to come of a change where a cycle is said to be reached
    double interval = 0; ///< s, between samples of the watched value; 0: a 256th of the period
    /// s; 0: a twentieth of the period. Where a faster mode grows it must be told (growth_watch.h).
    double longest_step = 0;
    /// Steps after which it is undecided, however little time they took.
    std::size_t most_steps = std::numeric_limits<std::size_t>::max();
};

/// s of motion in which it is told that growth (1/s) ends below the threshold: four times what a small motion takes to grow 1e5-fold,
/// as half of it counts, in whole stretches.
inline double time_to_tell(double growth) { return 4 * std::log(1e5) / growth; }

struct Fate {
    enum class Kind { rests, cycles, undecided };
    Kind kind = Kind::undecided;
    double peak_to_peak = 0; ///< median swing of the watched value over the last stretch; 0 at rest
    /// Highest less lowest watched value over the last stretch; of irregular hunting, over the last eight.
    double span = 0;
    double frequency = 0;           ///< Hz; 0 where nothing oscillates by the threshold
    bool irregular = false;         ///< cycles without settling on one span
    std::vector<double> spans;      ///< of FateQuestion::also, over the same time
    double lowest = 0, highest = 0; ///< watched value, during the whole motion
    double time = 0;                ///< s of motion
    Eigen::VectorXd y;              ///< states as stored at the end
};

/// "rests", "cycles", "undecided".
const char* name(Fate::Kind kind);

/// Judges a motion by its samples; fate_of below feeds it.
class FateJudge {
  public:
    /// Throws std::invalid_argument for a threshold, period or longest time that is not above 0.
    explicit FateJudge(FateQuestion question);

    const FateQuestion& question() const { return question_; }

    /// The watched value at the next multiple of the interval, and the others. True when the fate is decided, or the
    /// time is over.
    bool add(double watched, const std::vector<double>& also);

    /// The motion is not followed further: undecided, with what the unfinished stretch shows where no other is over.
    void stop();

    /// All but the states at the end.
    const Fate& fate() const { return fate_; }

  private:
    /// A stretch that is over.
    struct Stretch {
        double span = 0, swing = 0, frequency = 0, lowest = 0, highest = 0;
        bool oscillates = false;
        std::vector<double> also_lowest, also_highest;
    };

    bool end_stretch();
    Stretch measured() const;
    void begin_stretch(std::size_t samples);
    void lengthen(const Stretch& last);
    std::optional<Fate::Kind> decided() const;
    bool comes_to_rest() const;
    std::optional<double> still_to_come() const;
    bool has_settled() const;
    bool grows() const { return question_.growth && *question_.growth > 0; }
    bool outlasts_growth(std::size_t stretches) const;
    bool stays_small() const;
    std::size_t unchanged() const;
    bool irregular_for_good() const;
    void tell(const Stretch& last, std::optional<Fate::Kind> kind);

    FateQuestion question_;
    Fate fate_;
    std::size_t samples_ = 0;     ///< of a stretch
    std::size_t taken_ = 0;       ///< since the beginning
    std::vector<double> watched_; ///< of this stretch
    std::vector<double> also_lowest_, also_highest_;
    std::vector<Stretch> past_; ///< of the present length
};

/// The fate of `system` from (t, y), its drives held at what its present pieces give at t; `system` stays as it is. The work
/// is added to `counts`. `go_on` is asked after every step; false ends it there, undecided. Throws IntegrationFailure.
template <class S> Fate fate_of(const S& system, const Eigen::VectorXd& y, double t,
                                const FateQuestion& question, Tolerance tolerance, Counts& counts,
                                const std::function<bool()>& go_on = {}) {
    S still = system;
    std::vector<Schedule> drives;
    for (const auto& ramp : still.ramps())
        drives.emplace_back(ramp(t));
    still.replace(std::move(drives));
    still.enter(0);

    FateJudge judge(question);
    const auto& asked = judge.question();
    std::vector<double> values(still.size() + still.ramps().size()), also(asked.also.size());
    Eigen::VectorXd at(y.size());
    std::size_t next = 0;
    const auto look = [&](double now) {
        still.values(now, at.data(), values.data());
        for (std::size_t i = 0; i < also.size(); ++i)
            also[i] = values[asked.also[i]];
        ++next;
        return judge.add(values[asked.watched], also);
    };
    at = y;
    bool over = look(0);

    Rodas5P<S> stepper(still, tolerance);
    constexpr double first_step = 1e-4; // s, as integrate begins
    stepper.initialize(y, 0, std::min(first_step, asked.longest_step));
    stepper.watch(std::numeric_limits<double>::infinity());
    const Counts before = counts;
    while (!over) {
        if (stepper.counts().steps >= asked.most_steps || (go_on && !go_on()))
            break;
        try {
            stepper.do_step(still, stepper.current_time() + asked.longest_step);
        } catch (...) {
            counts = before + stepper.counts();
            throw;
        }
        for (double now = static_cast<double>(next) * asked.interval; !over && now <= stepper.current_time();
             now = static_cast<double>(next) * asked.interval) {
            stepper.calc_state(now, at);
            over = look(now);
        }
    }
    counts = before + stepper.counts();
    if (!over)
        judge.stop();
    Fate fate = judge.fate();
    fate.y = stepper.current_state();
    return fate;
}

} // namespace needleturn::sim
