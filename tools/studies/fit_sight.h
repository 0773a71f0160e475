/// The residuals of a fit: what stays the same while its unknowns move, and what the model and the gauges make of them. First
/// those of all readings that are compared one by one, gauge by gauge, in units of their scales; then what repeats where they hunt
/// (fit_cycles.h), in units of its errors. For fit.cpp alone.
#pragma once

#include "scenarios/table_reader.h"
#include "sim/equilibrium.h"
#include "sim/rodas5p.h"
#include "tools/studies/fit.h"
#include "tools/studies/fit_cycles.h"
#include "tools/studies/gauge.h"
#include "tools/studies/traced_run.h"
#include "tools/studies/verdict.h"

#include <Eigen/Core>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::detail {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using scenarios::Logged;

inline bool is_pressure(Logged what) { return what != Logged::flow; }

/// The readings of a channel that are used, and how much they flicker.
struct Readings {
    Logged what = Logged::outlet;
    SplitReadings split;
    double scale = 1; ///< SI, what residuals of single readings are told in
};

/// Everything of a fit that stays the same while the unknowns move.
class Sight {
  public:
    explicit Sight(const FitQuestion& question) : question_{question} {
        for (const auto& unknown : question.unknowns)
            (unknown.of_gauge() ? gauge_ : traced_.unknowns_of_scenario).push_back(unknown);
        for (const auto& channel : question.trace.channels)
            channels_.push_back(channel.what);
        spread_over_gauges();
        take_readings();
    }

    std::vector<Unknown> unknowns() const {
        auto all = traced_.unknowns_of_scenario;
        all.insert(all.end(), gauge_.begin(), gauge_.end());
        return all;
    }
    const std::vector<Readings>& readings() const { return readings_; }
    const std::vector<QuietWindow>& windows() const { return windows_; }
    Index size() const { return singles_ + repeated_; }
    Index repeated() const {
        return repeated_;
    } ///< how many of the residuals, the last ones, are of what repeats
    std::size_t runs() const { return runs_; }
    /// Of how many of them what the trace hunts by was shown to a third at least, in every stretch.
    std::size_t hunting_runs() const { return hunting_runs_; }
    /// Adds the runs of another.
    void count_in(const Sight& other) {
        runs_ += other.runs_;
        hunting_runs_ += other.hunting_runs_;
        if (why_not_.empty())
            why_not_ = other.why_not_;
        if (by_differences_.empty())
            by_differences_ = other.by_differences_;
    }
    const std::vector<bool>& by_differences() const { return by_differences_; }
    /// Why the model could not be run where it was tried last and could not; empty: it always could.
    const std::string& why_not() const { return why_not_; }
    /// Of the runs without slopes from now on, at least; 0: as the scenario says.
    void set_tolerance(double tolerance) {
        tolerance_ = tolerance;
        plain_.run.reset();
    }

    /// Residuals and their derivatives. False: the model cannot be run there.
    bool evaluate(const VectorXd& z, VectorXd& residuals, MatrixXd* jacobian) {
        if (!know_run(z.head(own()), jacobian != nullptr))
            return false;
        residuals.resize(size());
        Index row = 0, below = singles_;
        bool hunts = true;
        for (std::size_t c = 0; c < readings_.size(); ++c) {
            const auto& split = readings_[c].split;
            if (!split.calm.time.empty())
                row += add_singles(z, c, row, residuals, jacobian);
            for (const auto& stretch : split.cycles) {
                const auto shape = add_repeated(z, c, stretch, below, residuals, jacobian);
                constexpr double third = 1.0 / 3;
                hunts = hunts && shape.amplitude() > third * stretch.told.amplitude();
                below += static_cast<Index>(stretch.size());
            }
        }
        hunting_runs_ += hunts && fresh_ ? 1 : 0;
        fresh_ = false;
        return true;
    }

    /// Residuals with the pipes in four times as many cells. False: as evaluate.
    bool finer_residuals(const VectorXd& z, VectorXd& residuals) {
        auto known = std::exchange(with_slopes_.run, {});
        plain_.run.reset();
        traced_.finer = 4;
        const bool found = evaluate(z, residuals, nullptr);
        traced_.finer = 1;
        plain_.run.reset();
        with_slopes_.run = std::move(known);
        return found;
    }

    /// What channel c would read at `times` of the run known last.
    VectorXd seen(const VectorXd& z, std::size_t c, const std::vector<double>& times) const {
        return seen_by(gauge_at(z, readings_[c].what), run_->values.col(static_cast<Index>(c)),
                       traced_.interval, times);
    }

  private:
    Index own() const { return static_cast<Index>(traced_.unknowns_of_scenario.size()); }

    /// Derivatives of what channel c reads at `times`: take(k, values per unit of z_k).
    template <class Take> void take_slopes(const VectorXd& z, std::size_t c, const std::vector<double>& times,
                                           const Take& take) const {
        auto gauge = gauge_at(z, readings_[c].what);
        gauge.offset = 0;
        for (Index k = 0; k < own(); ++k)
            take(k, seen_by(gauge, run_->slopes[static_cast<std::size_t>(k)].col(static_cast<Index>(c)),
                            traced_.interval, times));
        constexpr double step = 1e-3; // in z: gauges are smooth in it, and linear in offset and gain
        for (Index k = own(); k < z.size(); ++k) {
            const VectorXd along = VectorXd::Unit(z.size(), k) * step;
            take(k, VectorXd((seen(z + along, c, times) - seen(z - along, c, times)) / (2 * step)));
        }
    }

    Index add_singles(const VectorXd& z, std::size_t c, Index row, VectorXd& residuals,
                      MatrixXd* jacobian) const {
        const auto& [time, value] = readings_[c].split.calm;
        const double scale = readings_[c].scale;
        const auto count = static_cast<Index>(time.size());
        residuals.segment(row, count) =
            (seen(z, c, time) - Eigen::Map<const VectorXd>(value.data(), count)) / scale;
        if (jacobian != nullptr)
            take_slopes(z, c, time, [&](Index k, const VectorXd& slope) {
                jacobian->col(k).segment(row, count) = slope / scale;
            });
        return count;
    }

    sim::CycleShape add_repeated(const VectorXd& z, std::size_t c, const CycleStretch& stretch, Index row,
                                 VectorXd& residuals, MatrixXd* jacobian) const {
        const auto& times = stretch.readings.time;
        const auto count = static_cast<Index>(stretch.size());
        const VectorXd shown = seen(z, c, times);
        auto shape = shape_in(stretch, shown);
        residuals.segment(row, count) = differences_of(stretch, shape);
        if (jacobian != nullptr)
            take_slopes(z, c, times, [&](Index k, const VectorXd& slope) {
                jacobian->col(k).segment(row, count) = difference_slopes(stretch, shown, shape, slope);
            });
        return shape;
    }

    /// One offset and one gain per gauge that has it.
    void spread_over_gauges() {
        for (const auto* key : {"gauge.offset", "gauge.gain"}) {
            const auto at = std::ranges::find(gauge_, key, &Unknown::key);
            if (at == gauge_.end())
                continue;
            const auto unknown = *at;
            gauge_.erase(at);
            for (const auto what : channels_)
                if (is_pressure(what) || unknown.key == "gauge.gain") {
                    auto& one = gauge_.emplace_back(unknown);
                    one.key += fmt::format(" of {}", scenarios::logged_names[static_cast<std::size_t>(what)]);
                }
        }
    }

    const Unknown* gauge_unknown(const char* key) const {
        const auto found = std::ranges::find(gauge_, key, &Unknown::key);
        return found == gauge_.end() ? nullptr : &*found;
    }

    Gauge gauge_at(const VectorXd& z, Logged what) const {
        Gauge gauge;
        const auto* name = scenarios::logged_names[static_cast<std::size_t>(what)];
        auto k = own();
        for (const auto& unknown : gauge_) {
            const double value = unknown.value(z[k++]);
            if (unknown.key == "gauge.lag")
                gauge.lag = value;
            else if (unknown.key == "gauge.clock")
                gauge.clock = value;
            else if (unknown.key == fmt::format("gauge.offset of {}", name))
                gauge.offset = value;
            else if (unknown.key == fmt::format("gauge.gain of {}", name))
                gauge.gain = value;
        }
        return gauge;
    }

    void take_readings() {
        const auto scenario = question_.file.read();
        const auto* clock = gauge_unknown("gauge.clock");
        const double ahead = clock != nullptr ? clock->low : 0;
        const double end = scenario.run.duration + std::min(0.0, ahead);
        double step = std::numeric_limits<double>::infinity(), last = 0;
        for (const auto& channel : question_.trace.channels) {
            const auto all = readings_of(channel, end);
            auto& read = readings_.emplace_back(Readings{channel.what, {}, 1});
            // Beneath these the model's own errors count.
            const double least = is_pressure(read.what) ? 200 : 1e-3 * std::abs(std::ranges::max(all.value));
            read.scale = std::max(flicker_of(all.value), least);
            if (windows_.empty()) {
                set_windows(scenario, all.time.back());
                constexpr double of_noise = 4, of_flow = 0.02;
                // Of so much noise few cycles look like an oscillation; of hunting every one counts.
                find_hunting_windows(
                    windows_, all,
                    std::max(is_pressure(read.what) ? visible_flicker : of_flow * std::ranges::max(all.value),
                             of_noise * read.scale));
            }
            constexpr double of_model = 500; // Pa: what 2 and 8 cells in the pipes of dairy-logged differ by
            read.split = split_readings(all, windows_, is_pressure(read.what) ? of_model : 5 * least);
            step = std::min(step,
                            (all.time.back() - all.time.front()) / static_cast<double>(all.time.size() - 1));
            last = std::max(last, all.time.back());
            singles_ += static_cast<Index>(read.split.calm.time.size());
            for (const auto& stretch : read.split.cycles)
                repeated_ += static_cast<Index>(stretch.size());
        }
        // Between instants the signal is taken as straight: fine enough for motions of ten a second, half of the readings' interval
        // where that is less.
        constexpr double finest = 2e-3, coarsest = 1e-2;
        constexpr double most = 50'000;
        const double until = std::min(last - std::min(0.0, ahead), scenario.run.duration);
        traced_.interval = std::max(std::clamp(step / 2, finest, coarsest), until / most);
        traced_.instants = static_cast<std::size_t>(std::floor(until / traced_.interval)) + 1;
        constexpr double cycles = 20, longest = 40; // s
        if (windows_.front().frequency > 0)
            traced_.before = std::min(cycles / windows_.front().frequency, longest);
    }

    GaugeReadings readings_of(const scenarios::Trace::Channel& channel, double end) const {
        GaugeReadings all;
        for (std::size_t i = 0; i < channel.values.size(); ++i) {
            const double t = question_.trace.time[i] - question_.start;
            if (t < 0 || t > end || std::isnan(channel.values[i]))
                continue;
            all.time.push_back(t);
            all.value.push_back(channel.values[i]);
        }
        constexpr std::size_t fewest = 10;
        if (all.time.size() < fewest)
            scenarios::raise(fmt::format("{} readings of {} lie within the scenario, 0 to {:.4g} s of "
                                         "it, and the trace runs from {:.4g} to "
                                         "{:.4g} s; {} or more are wanted: --start says at which time of "
                                         "the trace the scenario begins",
                                         all.time.size(), channel.column, end,
                                         question_.trace.time.front() - question_.start,
                                         question_.trace.time.back() - question_.start, fewest));
        return all;
    }

    /// From when an event is over to the next one, wherever in its range the logger's clock is.
    void set_windows(const scenarios::Scenario& scenario, double last) {
        const auto* clock = gauge_unknown("gauge.clock");
        const double low = clock != nullptr ? clock->low : 0, high = clock != nullptr ? clock->high : 0;
        const auto events = events_of(scenario);
        for (std::size_t i = 0; i < events.size(); ++i) {
            const double begin = i == 0 ? 0 : events[i].until + std::max(high, 0.0);
            const double end =
                i + 1 < events.size() ? std::min(events[i + 1].at + std::min(low, 0.0), last) : last;
            if (end > begin)
                windows_.push_back({begin, end, 0});
        }
        if (windows_.empty())
            windows_.push_back({0, last, 0});
    }

    /// Runs the model, unless it has been run there: a search asks again at the place of its last step and of its last slopes.
    bool know_run(const VectorXd& z, bool with_slopes) {
        for (const auto* known : {&with_slopes_, &plain_})
            if (known->run && z == known->at && (!with_slopes || known == &with_slopes_)) {
                run_ = &*known->run;
                return true;
            }
        auto& kept = with_slopes ? with_slopes_ : plain_;
        kept.run.reset();
        kept.at = z;
        try {
            const TracedQuestion asked{question_.file,   traced_.unknowns_of_scenario,
                                       channels_,        traced_.interval,
                                       traced_.instants, question_.threads,
                                       question_.go_on,  traced_.before,
                                       traced_.finer};
            kept.run = run_traced(asked, z, with_slopes, with_slopes ? 0 : tolerance_);
            fresh_ = true;
        } catch (const scenarios::ScenarioError& error) {
            why_not_ = error.what();
        } catch (const sim::NoEquilibrium& error) {
            why_not_ = error.what();
        } catch (const sim::IntegrationFailure& error) {
            why_not_ = error.what();
        }
        ++runs_;
        if (question_.progress)
            question_.progress();
        if (!kept.run)
            return false;
        run_ = &*kept.run;
        if (with_slopes)
            by_differences_ = run_->by_differences;
        return true;
    }

    struct Kept {
        VectorXd at;
        std::optional<TracedRun> run;
    };
    struct Traced {
        std::vector<Unknown> unknowns_of_scenario;
        double interval = 0;
        std::size_t instants = 0;
        double before = 0;
        std::size_t finer = 1;
    };

    const FitQuestion& question_;
    Traced traced_;
    std::vector<Unknown> gauge_;
    std::vector<Logged> channels_;
    std::vector<Readings> readings_;
    std::vector<QuietWindow> windows_;
    Index singles_ = 0, repeated_ = 0;
    double tolerance_ = 0;
    bool fresh_ = false; ///< the run known last was not counted yet
    Kept plain_, with_slopes_;
    const TracedRun* run_ = nullptr;
    std::vector<bool> by_differences_;
    std::size_t runs_ = 0, hunting_runs_ = 0;
    std::string why_not_;
};

} // namespace needleturn::detail
