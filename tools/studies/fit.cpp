#include "tools/studies/fit.h"

#include "scenarios/table_reader.h"
#include "sim/equilibrium.h"
#include "sim/hunting.h"
#include "sim/rodas5p.h"
#include "tools/studies/gauge.h"
#include "tools/studies/traced_run.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <optional>
#include <random>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using scenarios::Logged;

constexpr double huber = 1.345; // sim/least_squares.h

bool is_pressure(Logged what) { return what != Logged::flow; }

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

sim::LeastSquares problem_of(Sight& sight, std::size_t unknowns) {
    sim::LeastSquares problem;
    problem.evaluate = [&sight](const VectorXd& z, VectorXd& residuals, MatrixXd* jacobian) {
        return sight.evaluate(z, residuals, jacobian);
    };
    problem.residuals = sight.size();
    problem.priors.assign(unknowns, {0, 1});
    problem.huber = huber;
    // A relative change of the sum by so much is a change of the density by less than a fifth with a few thousand readings; beneath
    // it the search would follow the errors of the runs.
    problem.tolerance = 1e-4;
    problem.settled = 5e-3;
    problem.evaluations = 60;
    return problem;
}

/// The clock at which the run of `z` lies nearest the readings: far from it a search finds no way.
VectorXd with_clock(Sight& sight, VectorXd z) {
    const auto unknowns = sight.unknowns();
    const auto clock = std::ranges::find(unknowns, "gauge.clock", &Unknown::key);
    if (clock == unknowns.end())
        return z;
    const auto k = static_cast<Index>(clock - unknowns.begin());
    double best = std::numeric_limits<double>::infinity(), where = 0;
    constexpr int steps = 40;
    constexpr double reach = 2; // 95 % of the range
    for (int i = -steps; i <= steps; ++i) {
        z[k] = reach * i / steps;
        VectorXd residuals;
        if (sight.evaluate(z, residuals, nullptr) && residuals.lpNorm<1>() < best) {
            best = residuals.lpNorm<1>();
            where = z[k];
        }
    }
    z[k] = where;
    return z;
}

/// Where the residuals, averaged over a fortieth of them, are largest.
void find_worst(Fitted::OfChannel& channel, const VectorXd& residuals) {
    const auto n = residuals.size();
    const auto width = std::max<Index>(n / 40, 3);
    for (Index i = 0; i + width <= n; ++i) {
        const double mean = residuals.segment(i, width).mean();
        if (std::abs(mean) > std::abs(channel.worst)) {
            channel.worst = mean;
            channel.worst_at = channel.time[static_cast<std::size_t>(i + width / 2)];
        }
    }
}

Fitted::OfChannel judged(const Readings& read, const VectorXd& residuals, double noise) {
    Fitted::OfChannel channel;
    channel.what = read.what;
    channel.readings = read.time.size();
    channel.noise = noise * read.scale;
    channel.time = read.time;
    channel.reading = read.value;
    for (Index i = 0; i < residuals.size(); ++i)
        channel.model.push_back(read.value[static_cast<std::size_t>(i)] + residuals[i] * read.scale);
    constexpr double far = 4; // deviations: once in sixteen thousand readings of normal noise
    const auto outliers = (residuals.array().abs() > far * noise).count();
    channel.outliers = static_cast<double>(outliers) / static_cast<double>(residuals.size());
    const VectorXd bounded = residuals.cwiseMax(-far * noise).cwiseMin(far * noise);
    constexpr Index lags = 10; // about the logarithm of the readings (common practice, no source)
    channel.whiteness = sim::whiteness(bounded, std::min<Index>(lags, residuals.size() / 5));
    find_worst(channel, -residuals * read.scale);
    return channel;
}

void judge_channels(const Sight& sight, Fitted& fitted) {
    fitted.channels.clear();
    Index row = 0;
    for (const auto& read : sight.readings()) {
        const auto count = static_cast<Index>(read.time.size());
        fitted.channels.push_back(
            judged(read, fitted.estimate.residuals.segment(row, count), fitted.estimate.noise));
        row += count;
    }
}

void tell_values(const Sight& sight, Fitted& fitted) {
    const auto unknowns = sight.unknowns();
    const auto& estimate = fitted.estimate;
    const double after = sim::range_factor(fit_confidence, estimate.freedom);
    const double before = sim::range_factor(fit_confidence, std::numeric_limits<double>::infinity());
    for (std::size_t k = 0; k < unknowns.size(); ++k) {
        const auto i = static_cast<Index>(k);
        const double z = estimate.x[i], left = estimate.deviation(i);
        Fitted::Value value;
        value.unknown = unknowns[k];
        value.before_low = unknowns[k].value(-before);
        value.before_high = unknowns[k].value(before);
        value.value = unknowns[k].value(z);
        value.low = unknowns[k].value(z - after * left);
        value.high = unknowns[k].value(z + after * left);
        value.z = z;
        value.left = left;
        value.by_differences = k < sight.by_differences().size() && sight.by_differences()[k];
        fitted.values.push_back(std::move(value));
    }
    constexpr double alike = 0.9; // of variance one then leaves the other a fifth
    for (std::size_t i = 0; i < unknowns.size(); ++i)
        for (std::size_t k = i + 1; k < unknowns.size(); ++k)
            if (const double r = estimate.correlation(static_cast<Index>(i), static_cast<Index>(k));
                std::abs(r) >= alike)
                fitted.alike.push_back({i, k, r});
    std::ranges::stable_sort(fitted.alike, std::greater{},
                             [](const auto& pair) { return std::abs(pair.correlation); });
}

/// Where searches begin: the likeliest of the middle of all ranges and of places drawn. A trace that rings has many places where a
/// search gets stuck, most of them far from the truth.
std::vector<VectorXd> starts_of(Sight& sight, const FitQuestion& question, Index unknowns) {
    constexpr std::size_t tried = 40;
    std::mt19937_64 draw(question.seed);
    std::normal_distribution<double> normal(0, 1);
    std::vector<std::pair<double, VectorXd>> places;
    for (std::size_t i = 0; i < std::max(tried, question.starts); ++i) {
        VectorXd z = VectorXd::Zero(unknowns);
        constexpr double spread = 0.9; // of the prior, nearly all of it
        if (i > 0)
            for (auto& at : z)
                at = spread * normal(draw);
        VectorXd residuals;
        // The sum of the sizes, which a few far readings do not rule.
        if (sight.evaluate(z, residuals, nullptr))
            places.emplace_back(residuals.lpNorm<1>(), std::move(z));
    }
    std::ranges::stable_sort(places, {}, [](const auto& place) { return place.first; });
    std::vector<VectorXd> starts;
    for (std::size_t i = 0; i < std::min(places.size(), question.starts); ++i)
        starts.push_back(std::move(places[i].second));
    if (starts.empty())
        starts.emplace_back(VectorXd::Zero(unknowns));
    return starts;
}

/// The best of several searches.
void search(Sight& sight, const FitQuestion& question, const sim::LeastSquares& problem, Fitted& fitted) {
    std::vector<double> costs;
    for (auto& z : starts_of(sight, question, static_cast<Index>(problem.priors.size()))) {
        auto estimate = sim::least_squares(problem, with_clock(sight, std::move(z)));
        if (!estimate.found()) {
            if (fitted.estimate.x.size() == 0)
                fitted.estimate = std::move(estimate);
            continue;
        }
        // Each search ends with a noise of its own: told in one unit, by the likelihood.
        costs.push_back(2 * static_cast<double>(problem.residuals) * std::log(estimate.noise)
                        + estimate.cost);
        if (!fitted.estimate.found() || costs.back() <= *std::ranges::min_element(costs))
            fitted.estimate = std::move(estimate);
    }
    fitted.starts = question.starts;
    if (!costs.empty()) {
        constexpr double same = 2; // in minus twice the logarithm of the density: hardly less likely
        const double best = *std::ranges::min_element(costs);
        fitted.agreeing = static_cast<std::size_t>(
            std::ranges::count_if(costs, [&](double cost) { return cost - best <= same; }));
    }
}

} // namespace

bool Fitted::OfChannel::explained() const {
    constexpr double chance = 1e-3; // that noise from reading to reading is taken for more
    return whiteness.probability >= chance;
}

bool Fitted::explained() const {
    return std::ranges::all_of(channels, [](const auto& channel) { return channel.explained(); });
}

bool Fitted::told() const {
    return std::ranges::any_of(values,
                               [](const auto& value) { return !value.unknown.of_gauge() && value.told(); });
}

Fitted fit(const FitQuestion& question) {
    Sight sight(question);
    Fitted fitted;
    auto problem = problem_of(sight, sight.unknowns().size());
    search(sight, question, problem, fitted);
    const auto require_found = [&] {
        if (!fitted.estimate.found())
            scenarios::raise(fmt::format("the trace cannot be fitted: {}{}{}",
                                         sim::reason(fitted.estimate.end),
                                         sight.why_not().empty() ? "" : ": ", sight.why_not()));
    };
    require_found();
    judge_channels(sight, fitted);
    double rho = 0;
    for (const auto& channel : fitted.channels)
        if (channel.whiteness.first > 2 / std::sqrt(static_cast<double>(channel.readings))) // beyond chance
            rho = std::max(rho, channel.whiteness.first);
    if (rho > 0) {
        constexpr double most = 0.999;
        fitted.widened = std::sqrt((1 + std::min(rho, most)) / (1 - std::min(rho, most)));
        const double noise = fitted.estimate.noise;
        problem.noise = noise * fitted.widened;
        problem.huber = huber / fitted.widened; // of the noise of single readings, as before
        fitted.estimate = sim::least_squares(problem, fitted.estimate.x);
        require_found();
        fitted.estimate.noise = noise;
        judge_channels(sight, fitted);
    }
    tell_values(sight, fitted);
    fitted.runs = sight.runs();
    return fitted;
}

} // namespace needleturn
