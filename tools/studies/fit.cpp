#include "tools/studies/fit.h"

#include "scenarios/table_reader.h"
#include "sim/normal_draw.h"
#include "tools/studies/crew.h"
#include "tools/studies/fit_sight.h"

#include <boost/math/distributions/students_t.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <memory>
#include <mutex>
#include <random>
#include <utility>

namespace needleturn {

namespace {

using detail::Readings;
using detail::Sight;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double huber = 1.345; // sim/least_squares.h
/// That noise from reading to reading, or the errors of what repeats, are taken for more.
constexpr double unlikely = 1e-3;

sim::LeastSquares problem_of(Sight& sight, std::size_t unknowns) {
    sim::LeastSquares problem;
    problem.evaluate = [&sight](const VectorXd& z, VectorXd& residuals, MatrixXd* jacobian) {
        return sight.evaluate(z, residuals, jacobian);
    };
    problem.residuals = sight.size();
    problem.known = sight.repeated();
    if (problem.known == problem.residuals)
        problem.noise = 1; // nothing to estimate it from, and nothing is told in it
    else
        problem.huber = huber;
    problem.priors.assign(unknowns, {0, 1});
    // A relative change of the sum by so much is a change of the density by less than a fifth with a few thousand readings; beneath
    // it the search would follow the errors of the runs.
    problem.tolerance = 1e-4;
    problem.settled = 5e-3;
    problem.evaluations = 60;
    // Slopes of ten unknowns take as long as some fifteen runs without them. With corrected slopes a search needs more runs: with 7
    // unknowns twice as many, and no time is won; with 20 and 33 a third of the time is.
    constexpr std::size_t few = 10;
    problem.secants = unknowns > few ? 6 : 0;
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

/// That as large a difference as the largest of so many comes of errors that are known with so many degrees of freedom.
double chance_of(const VectorXd& differences, double freedom) {
    const double largest = differences.lpNorm<Eigen::Infinity>();
    const boost::math::students_t t(std::max(freedom, 1.0));
    const double each = 2 * boost::math::cdf(complement(t, largest));
    return std::min(1.0, static_cast<double>(differences.size()) * each);
}

/// Of the readings that are compared one by one.
void judge_singles(Fitted::OfChannel& channel, const Readings& read, const VectorXd& residuals,
                   double noise) {
    const auto& [time, value] = read.split.calm;
    channel.readings = time.size();
    channel.noise = noise * read.scale;
    channel.time = time;
    channel.reading = value;
    for (Index i = 0; i < residuals.size(); ++i)
        channel.model.push_back(value[static_cast<std::size_t>(i)] + residuals[i] * read.scale);
    constexpr Index fewest = 10;
    if (residuals.size() < fewest)
        return;
    constexpr double far = 4; // deviations: once in sixteen thousand readings of normal noise
    const auto outliers = (residuals.array().abs() > far * noise).count();
    channel.outliers = static_cast<double>(outliers) / static_cast<double>(residuals.size());
    const VectorXd bounded = residuals.cwiseMax(-far * noise).cwiseMin(far * noise);
    constexpr Index lags = 10; // about the logarithm of the readings (common practice, no source)
    channel.whiteness = sim::whiteness(bounded, std::min<Index>(lags, residuals.size() / 5));
    find_worst(channel, -residuals * read.scale);
}

/// Windows that are calm in the trace and hunt in the model.
void find_hunting_alone(const Sight& sight, const VectorXd& z, std::size_t c, Fitted::OfChannel& channel) {
    constexpr double interval = 0.01; // s
    for (const auto& window : sight.windows()) {
        if (window.frequency > 0 || channel.what == scenarios::Logged::flow)
            continue;
        GaugeReadings shown;
        const auto shows = static_cast<std::size_t>((window.end - window.begin) / interval) + 1;
        for (std::size_t i = 0; i < shows; ++i)
            shown.time.push_back(window.begin + static_cast<double>(i) * interval);
        const VectorXd seen = sight.seen(z, c, shown.time);
        shown.value.assign(seen.begin(), seen.end());
        const double frequency = hunting_in(shown, visible_flicker, false);
        if (frequency == 0)
            continue;
        const auto last = seen.tail(seen.size() / 4);
        channel.model_hunts_alone.push_back(
            {window.begin, window.end, frequency, last.maxCoeff() - last.minCoeff()});
    }
}

void judge_channels(Sight& sight, Fitted& fitted) {
    fitted.channels.clear();
    const auto& estimate = fitted.estimate;
    VectorXd again;
    sight.evaluate(estimate.x, again, nullptr); // so that the run known last is that of the estimate
    Index row = 0, below = sight.size() - sight.repeated();
    for (std::size_t c = 0; c < sight.readings().size(); ++c) {
        const auto& read = sight.readings()[c];
        auto& channel = fitted.channels.emplace_back();
        channel.what = read.what;
        channel.left_out = read.split.left_out;
        const auto count = static_cast<Index>(read.split.calm.time.size());
        judge_singles(channel, read, estimate.residuals.segment(row, count), estimate.noise);
        row += count;
        for (const auto& stretch : read.split.cycles) {
            const auto size = static_cast<Index>(stretch.size());
            auto shown = sight.seen(estimate.x, c, stretch.readings.time);
            auto shape = shape_in(stretch, shown);
            channel.cycles.push_back({stretch, std::move(shape), std::move(shown),
                                      chance_of(estimate.residuals.segment(below, size), stretch.freedom)});
            below += size;
        }
        find_hunting_alone(sight, estimate.x, c, channel);
    }
}

void tell_values(const Sight& sight, Fitted& fitted) {
    const auto unknowns = sight.unknowns();
    const auto& estimate = fitted.estimate;
    const double after = sim::range_factor(fit_confidence, estimate.freedom);
    const double before = sim::range_factor(fit_confidence, std::numeric_limits<double>::infinity());
    for (std::size_t k = 0; k < unknowns.size(); ++k) {
        const auto i = static_cast<Index>(k);
        const double z = estimate.x[i], left = std::min(estimate.deviation(i), 1.0);
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

/// Calls work(own sight, i) for each i below `count`, several at a time; `sight` counts their runs in.
template <class Work>
void with_sights(Sight& sight, const FitQuestion& question, std::size_t count, const Work& work) {
    std::mutex adding;
    std::vector<std::shared_ptr<Sight>> sights;
    share_out(count, question.threads, [&] {
        auto own = std::make_shared<Sight>(question);
        const std::scoped_lock lock(adding);
        sights.push_back(own);
        return [&work, own](std::size_t i) {
            work(*own, i);
            return true;
        };
    });
    for (const auto& own : sights)
        sight.count_in(*own);
}

/// Where searches begin: the likeliest of the middle of all ranges and of places drawn. A trace that rings has many places where a
/// search gets stuck, most of them far from the truth. Where the trace hunts some of them must, too: more are drawn for that.
std::vector<VectorXd> starts_of(Sight& sight, const FitQuestion& question, Index unknowns) {
    constexpr std::size_t at_once = 40, most = 160, hunting = 3;
    std::mt19937_64 draw(question.seed);
    sim::NormalDraw normal;
    std::vector<std::pair<double, VectorXd>> places; // how far off; infinity: the model cannot be run there
    const auto try_more = [&](std::size_t more) {
        const auto first = places.size();
        for (std::size_t i = first; i < first + more; ++i) {
            VectorXd z = VectorXd::Zero(unknowns);
            constexpr double spread = 0.9; // of the prior, nearly all of it
            if (i > 0)
                for (auto& at : z)
                    at = spread * normal(draw);
            places.emplace_back(std::numeric_limits<double>::infinity(), std::move(z));
        }
        with_sights(sight, question, more, [&](Sight& own, std::size_t i) {
            constexpr double quick = 1e-4; // tolerance: these runs are only put in order
            own.set_tolerance(quick);
            VectorXd residuals;
            auto& [cost, z] = places[first + i];
            if (own.evaluate(z, residuals, nullptr))
                cost = residuals.lpNorm<1>(); // the sum of the sizes, which a few far readings do not rule
        });
    };
    try_more(std::max(at_once, question.starts));
    while (sight.repeated() > 0 && sight.hunting_runs() < hunting && places.size() < most)
        try_more(at_once);
    std::ranges::stable_sort(places, {}, [](const auto& place) { return place.first; });
    std::vector<VectorXd> starts;
    for (std::size_t i = 0; i < question.starts && std::isfinite(places[i].first); ++i)
        starts.push_back(std::move(places[i].second));
    if (starts.empty())
        starts.emplace_back(VectorXd::Zero(unknowns));
    return starts;
}

/// The best of several searches.
void search(Sight& sight, const FitQuestion& question, Fitted& fitted) {
    const auto unknowns = sight.unknowns().size();
    auto starts = starts_of(sight, question, static_cast<Index>(unknowns));
    std::vector<sim::Estimate> estimates(starts.size());
    with_sights(sight, question, starts.size(), [&](Sight& own, std::size_t i) {
        estimates[i] = sim::least_squares(problem_of(own, unknowns), with_clock(own, std::move(starts[i])));
    });
    std::vector<double> costs;
    for (auto& estimate : estimates) {
        if (!estimate.found()) {
            if (fitted.estimate.x.size() == 0)
                fitted.estimate = std::move(estimate);
            continue;
        }
        // Each search ends with a noise of its own: told in one unit, by the likelihood.
        const auto singles = static_cast<double>(sight.size() - sight.repeated());
        costs.push_back(2 * singles * std::log(estimate.noise) + estimate.cost);
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

/// Adds to the covariance what the grid of the pipes moves the estimate by: a few steps of Gauss and Newton on the finer grid, with the
/// derivatives of the usual one.
void widen_by_grid(Sight& sight, const sim::LeastSquares& problem, Fitted& fitted) {
    auto& estimate = fitted.estimate;
    VectorXd finer, usual;
    MatrixXd jacobian(sight.size(), estimate.x.size());
    if (!sight.evaluate(estimate.x, usual, &jacobian))
        return;
    const double noise = problem.noise.value_or(estimate.noise);
    VectorXd weights = estimate.weights / (noise * noise);
    weights.tail(problem.known).setOnes();
    const auto gradient = [&](const VectorXd& at, const VectorXd& residuals) {
        return VectorXd(jacobian.transpose() * weights.cwiseProduct(residuals) + at);
    };
    const VectorXd rest = gradient(estimate.x, usual); // all but 0 where the search ended
    VectorXd move = VectorXd::Zero(estimate.x.size());
    constexpr int steps = 4;
    double longest = 1; // deviations of the prior: beyond one a straight line says nothing
    for (int i = 0; i < steps; ++i) {
        const VectorXd at = estimate.x + move;
        if (!sight.finer_residuals(at, finer))
            break;
        VectorXd step = -estimate.covariance * (gradient(at, finer) - rest);
        const double size = step.lpNorm<Eigen::Infinity>();
        if (size > longest) // steps that do not get shorter lead nowhere
            step *= longest / size;
        move += step;
        longest = std::min(longest, size);
    }
    const VectorXd before = estimate.covariance.diagonal();
    estimate.covariance += move * move.transpose();
    for (std::size_t k = 0; k < sight.unknowns().size(); ++k)
        if (const auto i = static_cast<Index>(k); !sight.unknowns()[k].of_gauge())
            fitted.widened_by_grid =
                std::max(fitted.widened_by_grid, std::sqrt(estimate.covariance(i, i) / before[i]));
}

} // namespace

bool Fitted::OfCycles::explained() const { return probability >= unlikely; }

bool Fitted::OfCycles::model_hunts() const {
    constexpr double third = 1.0 / 3;
    return model.amplitude() >= third * stretch.told.amplitude();
}

bool Fitted::OfChannel::noise_only() const { return whiteness.probability >= unlikely; }

bool Fitted::OfChannel::explained() const {
    return noise_only() && std::ranges::all_of(cycles, &OfCycles::explained);
}

bool Fitted::explained() const {
    return std::ranges::all_of(channels, [](const auto& channel) { return channel.explained(); });
}

bool Fitted::hunts() const {
    return std::ranges::any_of(channels, [](const auto& channel) { return !channel.cycles.empty(); });
}

bool Fitted::told() const {
    return std::ranges::any_of(values,
                               [](const auto& value) { return !value.unknown.of_gauge() && value.told(); });
}

Fitted fit(const FitQuestion& question) {
    std::mutex telling;
    auto one_by_one = question;
    if (question.progress)
        one_by_one.progress = [&] {
            const std::scoped_lock lock(telling);
            question.progress();
        };
    Sight sight(one_by_one);
    Fitted fitted;
    search(sight, one_by_one, fitted);
    auto problem = problem_of(sight, sight.unknowns().size());
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
        if (channel.readings > 0
            && channel.whiteness.first
                   > 2 / std::sqrt(static_cast<double>(channel.readings))) // beyond chance
            rho = std::max(rho, channel.whiteness.first);
    if (rho > 0 && problem.huber > 0) {
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
    if (!question.exact_grid)
        widen_by_grid(sight, problem, fitted);
    tell_values(sight, fitted);
    fitted.runs = sight.runs();
    fitted.hunting_runs = sight.hunting_runs();
    return fitted;
}

} // namespace needleturn
