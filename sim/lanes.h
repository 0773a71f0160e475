/// Lanes: W runs of one model at a time, side by side in vector registers, each with its own time, step length, drives and
/// tolerance, and with its own parameters where the model's are packs.
/// Every round attempts one step in each lane: a lane whose error allows it moves on, another tries again shorter, and one
/// that has come to its end is free for the next run. Nothing has to be in step, for the right-hand side is per lane.
///
/// What a lane computes does not depend on its neighbours nor on W (sim/pack.h): it is that of Rodas5P and integrate but
/// for the rounding of powers and exponentials, and for steps that this rounding tips over.
#pragma once

#include "sim/growth_watch.h"
#include "sim/pack.h"
#include "sim/recording.h"
#include "sim/rodas5p_step.h"

#include <Eigen/Core>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>
#include <vector>

namespace needleturn::sim {

/// How the work that takes the time is called: as it is. CallsFor (sim/processor.h) compiles it for a processor.
struct PlainCalls {
    template <class Work> static void run(const Work& work) { work(); }
};

/// An assembly whose functions are called by way of Calls.
template <Model M, std::size_t W, class Calls> class CalledAssembly : public Assembly<M, Pack<W>> {
  public:
    using Base = Assembly<M, Pack<W>>;
    using Base::Base;
    void rates(const Pack<W>& t, const Pack<W>* stored, Pack<W>* rate) const {
        Calls::run([&] { Base::rates(t, stored, rate); });
    }
    void linearise(const Pack<W>& t, const Pack<W>* stored, Pack<W>* rate, Pack<W>* matrix) const {
        Calls::run([&] { Base::linearise(t, stored, rate, matrix); });
    }
};

template <Model M, std::size_t W, class Calls = PlainCalls> class Lanes {
  public:
    /// The model must outlive the lanes.
    Lanes(const M& model, Tolerance tolerance)
        : assembly_{model},
          step_{assembly_},
          watch_(model.states(), assembly_.lu()),
          tolerance_{tolerance.relative} {}

    static constexpr std::size_t width = W;
    std::size_t size() const { return step_.size(); }
    bool free(std::size_t lane) const { return runs_[lane].ends.empty(); }
    bool all_free() const {
        return std::ranges::all_of(runs_, [](const Run& run) { return run.ends.empty(); });
    }
    const Counts& counts(std::size_t lane) const { return runs_[lane].counts; }

    /// What errors are weighed by in this lane from here on: typical sizes of the states, which must outlive its runs, and the
    /// tolerance. Until then it is what the lanes were made with.
    void weigh(std::size_t lane, const std::vector<Quantity>& states, Tolerance tolerance) {
        for (std::size_t i = 0; i < size(); ++i)
            step_.typical()[i].set(lane, states[i].typical);
        watch_.weigh(lane, states);
        tolerance_.set(lane, tolerance.relative);
    }

    /// Starts a run in a free lane, from (begin, y). `ends` are its breakpoints and its end, ascending; `ramps` the straight
    /// pieces of its drives that hold just after `begin`, in the order of the model's drives.
    void start(std::size_t lane, const Eigen::VectorXd& y, double begin, std::vector<double> ends,
               const std::vector<Ramp>& ramps) {
        auto& run = runs_[lane];
        run = Run{std::move(ends), 0, {}};
        for (std::size_t i = 0; i < size(); ++i)
            step_.y[i].set(lane, y[static_cast<Eigen::Index>(i)]);
        t_.set(lane, begin);
        watch_.forget(lane);
        enter(lane, ramps);
    }

    /// One step taken in a lane, for those who look at it: what Rodas5P shows of its last step.
    class Taken {
      public:
        double previous_time() const { return lanes_->t_old_[lane_]; }
        double current_time() const { return lanes_->t_[lane_]; }
        std::size_t lane() const { return lane_; }
        /// State i at a time within the step.
        double calc_state(std::size_t i, double t) const { return at_fraction(i, fraction(t)); }
        void calc_state(double t, double* y) const {
            const double s = fraction(t);
            for (std::size_t i = 0; i < lanes_->size(); ++i)
                y[i] = at_fraction(i, s);
        }

      private:
        friend class Lanes;
        Taken(Lanes* lanes, std::size_t lane) : lanes_{lanes}, lane_{lane} {}
        double fraction(double t) const {
            lanes_->know_dense();
            return (t - previous_time()) / lanes_->h_[lane_];
        }
        double at_fraction(std::size_t i, double s) const {
            return lanes_->step_.interpolated(i, s, [this](const Pack<W>& pack) { return pack[lane_]; });
        }
        Lanes* lanes_;
        std::size_t lane_;
    };

    /// One attempt in every lane. Calls observe(taken) for each step taken; then enter(lane, t) at a breakpoint for the ramps
    /// that hold from there on, ended(lane) when a run is over, and stuck(lane) when no step is short enough. In the last two
    /// the lane is free already and may be started again.
    template <class Observe, class Enter, class Ended, class Stuck>
    void advance(Observe&& observe, Enter&& enter_at, Ended&& ended, Stuck&& stuck) {
        Calls::run([this] { attempt(); });
        dense_known_ = false;
        for (std::size_t lane = 0; lane < W; ++lane) {
            if (free(lane))
                continue;
            auto& counts = runs_[lane].counts;
            ++(taken_[lane] ? counts.steps : counts.rejected);
            if (taken_[lane])
                observe(Taken(this, lane));
        }
        // y is the state after the step from here on.
        for (std::size_t i = 0; i < size(); ++i)
            step_.y[i] = select(taken_, step_.y_new[i], step_.y[i]);
        for (std::size_t lane = 0; lane < W; ++lane) {
            auto& run = runs_[lane];
            if (run.ends.empty())
                continue;
            if (short_[lane]) {
                leave(lane);
                stuck(lane);
            } else if (taken_[lane] && t_[lane] >= run.ends[run.next]) {
                if (++run.next < run.ends.size()) {
                    enter(lane, enter_at(lane, t_[lane]));
                } else {
                    leave(lane);
                    ended(lane);
                }
            }
        }
    }

  private:
    struct Run {
        std::vector<double> ends; ///< breakpoints and end; empty: the lane is free
        std::size_t next = 0;     ///< which of them is approached
        Counts counts;
    };

    void leave(std::size_t lane) {
        runs_[lane].ends.clear();
        watch_.leave(lane);
    }

    void enter(std::size_t lane, const std::vector<Ramp>& ramps) {
        auto& run = runs_[lane];
        for (std::size_t j = 0; j < ramps.size(); ++j) {
            auto& ramp = assembly_.ramps()[j];
            ramp.begin.set(lane, ramps[j].begin);
            ramp.value.set(lane, ramps[j].value);
            ramp.slope.set(lane, ramps[j].slope);
        }
        constexpr double first_step = 1e-4; // as in integrate
        limit_.set(lane, run.ends[run.next]);
        next_.set(lane, std::min(first_step, run.ends[run.next] - t_[lane]));
        retries_.set(lane, 0);
        watch_.begin(lane, growth::longest_on_piece(ramps, run.ends[run.next] - t_[lane]));
        ++run.counts.restarts;
    }

    /// As Rodas5P::do_step.
    void attempt() {
        step_.linearise(assembly_, t_);
        const Pack<W> left = limit_ - t_;
        const Pack<W> due = min(next_, watch_.longest(step_.jacobian.data(), next_, retries_));
        const Mask<W> lands = rodas5p::lands(due, left);
        h_ = rodas5p::length(due, left);
        short_ = (h_ < 1e-13 * max(Pack<W>(1.0), abs(t_))) & (h_ < left);
        const Pack<W> squared = step_.attempt(assembly_, t_, h_);
        const Pack<W> error = sqrt(squared) / tolerance_;
        taken_ = error <= Pack<W>(1.0); // not where it is not a number
        next_ = rodas5p::next_due(h_, next_, error, taken_, retries_ > Pack<W>(0.0));
        retries_ = select(taken_, Pack<W>(0.0), Pack<W>(1.0));
        t_old_ = t_;
        t_ = select(taken_, select(lands, limit_, t_ + h_), t_);
    }

    void know_dense() {
        if (!dense_known_)
            Calls::run([this] { step_.know_dense(); });
        dense_known_ = true;
    }

    using Equations = CalledAssembly<M, W, Calls>;
    Equations assembly_;
    Rodas5PStep<Equations> step_;
    GrowthWatch<Pack<W>> watch_;
    Pack<W> tolerance_;
    std::array<Run, W> runs_;
    Pack<W> t_{0.0}, t_old_{0.0}, h_{1.0}, next_{1.0}, limit_{1.0}; ///< free lanes march on, unseen
    Pack<W> retries_{0.0};
    Mask<W> taken_, short_;
    bool dense_known_ = false;
};

} // namespace needleturn::sim
