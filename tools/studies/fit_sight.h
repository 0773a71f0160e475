/// The residuals of a fit: what stays the same while its unknowns move, and what the model and the gauges make of them. For
/// fit.cpp alone.
#pragma once

#include "scenarios/table_reader.h"
#include "sim/equilibrium.h"
#include "sim/hunting.h"
#include "sim/rodas5p.h"
#include "tools/studies/fit.h"
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
    std::vector<double> time, value; ///< s from the scenario's start by the logger's clock; SI
    double scale = 1;                ///< SI, what residuals are told in
};

/// Everything of a fit that stays the same while the unknowns move.
class Sight {
  public:
    explicit Sight(const FitQuestion& question) : question_{question} {
        for (const auto& unknown : question.unknowns)
            (unknown.of_gauge() ? gauge_ : traced_.unknowns_of_scenario).push_back(unknown);
        for (const auto& channel : question.trace.channels)
            channels_.push_back(channel.what);
        spread_offsets();
        take_readings();
    }

    std::vector<Unknown> unknowns() const {
        auto all = traced_.unknowns_of_scenario;
        all.insert(all.end(), gauge_.begin(), gauge_.end());
        return all;
    }
    const std::vector<Readings>& readings() const { return readings_; }
    Index size() const { return size_; }
    std::size_t runs() const { return runs_; }
    const std::vector<bool>& by_differences() const { return by_differences_; }
    /// Why the model could not be run where it was tried last and could not; empty: it always could.
    const std::string& why_not() const { return why_not_; }

    /// Residuals, in units of the scales, and their derivatives. False: the model cannot be run there.
    bool evaluate(const VectorXd& z, VectorXd& residuals, MatrixXd* jacobian) {
        const auto n = static_cast<Index>(traced_.unknowns_of_scenario.size());
        if (!know_run(z.head(n), jacobian != nullptr))
            return false;
        residuals.resize(size_);
        Index row = 0;
        for (std::size_t c = 0; c < readings_.size(); ++c) {
            const auto& read = readings_[c];
            const auto count = static_cast<Index>(read.time.size());
            const auto seen = [&](const VectorXd& at, const VectorXd& signal) {
                return seen_by(gauge_at(at, read.what), signal, traced_.interval, read.time);
            };
            const VectorXd signal = run_->values.col(static_cast<Index>(c));
            const VectorXd told = Eigen::Map<const VectorXd>(read.value.data(), count);
            residuals.segment(row, count) = (seen(z, signal) - told) / read.scale;
            if (jacobian != nullptr) {
                for (Index k = 0; k < n; ++k) {
                    auto gauge = gauge_at(z, read.what);
                    gauge.offset = 0;
                    const VectorXd slope =
                        run_->slopes[static_cast<std::size_t>(k)].col(static_cast<Index>(c));
                    jacobian->col(k).segment(row, count) =
                        seen_by(gauge, slope, traced_.interval, read.time) / read.scale;
                }
                constexpr double step = 1e-3; // in z: gauges are smooth in it, and linear in the offset
                for (Index k = n; k < z.size(); ++k) {
                    const VectorXd along = VectorXd::Unit(z.size(), k) * step;
                    jacobian->col(k).segment(row, count) =
                        (seen(z + along, signal) - seen(z - along, signal)) / (2 * step * read.scale);
                }
            }
            row += count;
        }
        return true;
    }

  private:
    /// One offset per pressure gauge.
    void spread_offsets() {
        const auto at = std::ranges::find(gauge_, "gauge.offset", &Unknown::key);
        if (at == gauge_.end())
            return;
        const auto offset = *at;
        gauge_.erase(at);
        for (const auto what : channels_)
            if (is_pressure(what)) {
                auto& own = gauge_.emplace_back(offset);
                own.key += fmt::format(" of {}", scenarios::logged_names[static_cast<std::size_t>(what)]);
            }
    }

    const Unknown* gauge_unknown(const char* key) const {
        const auto found = std::ranges::find(gauge_, key, &Unknown::key);
        return found == gauge_.end() ? nullptr : &*found;
    }

    Gauge gauge_at(const VectorXd& z, Logged what) const {
        Gauge gauge;
        const auto own =
            fmt::format("gauge.offset of {}", scenarios::logged_names[static_cast<std::size_t>(what)]);
        auto k = static_cast<Index>(traced_.unknowns_of_scenario.size());
        for (const auto& unknown : gauge_) {
            const double value = unknown.value(z[k++]);
            if (unknown.key == "gauge.lag")
                gauge.lag = value;
            else if (unknown.key == "gauge.clock")
                gauge.clock = value;
            else if (unknown.key == own)
                gauge.offset = value;
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
            Readings read{channel.what, {}, {}, 1};
            for (std::size_t i = 0; i < channel.values.size(); ++i) {
                const double t = question_.trace.time[i] - question_.start;
                if (t < 0 || t > end || std::isnan(channel.values[i]))
                    continue;
                read.time.push_back(t);
                read.value.push_back(channel.values[i]);
            }
            constexpr std::size_t fewest = 10;
            if (read.time.size() < fewest)
                scenarios::raise(fmt::format("{} readings of {} lie within the scenario, 0 to {:.4g} s of "
                                             "it, and the trace runs from {:.4g} to "
                                             "{:.4g} s; {} or more are wanted: --start says at which time of "
                                             "the trace the scenario begins",
                                             read.time.size(), channel.column, end,
                                             question_.trace.time.front() - question_.start,
                                             question_.trace.time.back() - question_.start, fewest));
            // Beneath these the model's own errors count.
            const double least = is_pressure(read.what) ? 200 : 1e-3 * std::abs(std::ranges::max(read.value));
            read.scale = std::max(flicker_of(read.value), least);
            refuse_hunting(read);
            step = std::min(step, (read.time.back() - read.time.front())
                                      / static_cast<double>(read.time.size() - 1));
            last = std::max(last, read.time.back());
            size_ += static_cast<Index>(read.time.size());
            readings_.push_back(std::move(read));
        }
        // Between instants the signal is taken as straight: fine enough for motions of ten a second, half of the readings' interval
        // where that is less.
        constexpr double finest = 2e-3, coarsest = 1e-2;
        constexpr double most = 50'000;
        const double until = std::min(last - std::min(0.0, ahead), scenario.run.duration);
        traced_.interval = std::max(std::clamp(step / 2, finest, coarsest), until / most);
        traced_.instants = static_cast<std::size_t>(std::floor(until / traced_.interval)) + 1;
    }

    static void refuse_hunting(const Readings& read) {
        if (!is_pressure(read.what))
            return;
        constexpr double of_noise = 8; // noise alone swings by six or so of its deviations
        const auto begin = read.value.size() / 2;
        const std::vector<double> late(read.value.begin() + static_cast<std::ptrdiff_t>(begin),
                                       read.value.end());
        const double interval = (read.time.back() - read.time[begin])
                                / static_cast<double>(std::max<std::size_t>(late.size() - 1, 1));
        const auto hunting =
            sim::find_hunting(late, interval, std::max(visible_flicker, of_noise * read.scale));
        if (hunting.hunts())
            scenarios::raise(fmt::format("{}: the trace hunts to its end, by {:.2f} bar: of a lasting "
                                         "oscillation the phase is lost, and readings "
                                         "one by one tell nothing of the valve; fit a calm trace of it",
                                         scenarios::logged_names[static_cast<std::size_t>(read.what)],
                                         hunting.swing() / 1e5));
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
                                       traced_.instants, question_.threads};
            kept.run = run_traced(asked, z, with_slopes);
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
    };

    const FitQuestion& question_;
    Traced traced_;
    std::vector<Unknown> gauge_;
    std::vector<Logged> channels_;
    std::vector<Readings> readings_;
    Index size_ = 0;
    Kept plain_, with_slopes_;
    const TracedRun* run_ = nullptr;
    std::vector<bool> by_differences_;
    std::size_t runs_ = 0;
    std::string why_not_;
};

} // namespace needleturn::detail
