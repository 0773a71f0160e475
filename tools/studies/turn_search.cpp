#include "tools/studies/turn_search.h"

#include "scenarios/build.h"
#include "sim/processor.h"
#include "tools/studies/crew.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/limits_kept.h"
#include "tools/studies/second_grid.h"
#include "tools/studies/side_by_side.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <limits>
#include <mutex>
#include <optional>
#include <stdexcept>
#include <string>

namespace needleturn {

using scenarios::Override;

namespace {

/// The worst event of a run for every limit that is stated.
std::vector<Margin> margins_of(const scenarios::Scenario& scenario,
                               const std::vector<EventVerdict>& verdict) {
    std::vector<Margin> margins;
    for (const auto& [what, bound] : scenarios::stated_limits(scenario.accept)) {
        const auto& entry = what.entry();
        const double sign = entry.at_least ? -1 : 1;
        double worst = -std::numeric_limits<double>::infinity(); // times the sign
        for (const auto& event : verdict) {
            // An event that hunts never settles, and is judged by its hunting.
            const bool unsettled = entry.limit == scenarios::Limit::settling_time && event.hunts_in_window();
            worst = std::max(worst, unsettled ? 0.0 : sign * measured(what, event));
        }
        const bool asked = !entry.not_always || worst > -std::numeric_limits<double>::infinity();
        const double left = !asked                         ? 1.0
                            : !std::isfinite(worst)        ? -1.0
                            : bound > 0                    ? (sign * bound - worst) / bound
                            : !entry.at_least && worst > 0 ? -1.0 // nothing is allowed
                                                           : 1.0;
        margins.push_back(
            {what, left, asked ? sign * worst : std::numeric_limits<double>::quiet_NaN(), bound});
    }
    return margins;
}

/// Of what an event does not keep: what is known before what is undecided.
Finding first_of(const std::vector<Finding>& findings) {
    const auto known = std::ranges::find(findings, false, &Finding::undecided);
    return known != findings.end() ? *known : findings.front();
}

/// What a run under the condition `where` says of a setting.
void add(Judged& judged, const scenarios::Scenario& scenario, const Outcome& outcome,
         const std::string& where) {
    auto margins = margins_of(scenario, outcome.verdict);
    for (std::size_t i = 0; i < margins.size(); ++i) {
        margins[i].condition = where;
        if (judged.margins.size() <= i)
            judged.margins.push_back(margins[i]);
        else if (margins[i].fraction < judged.margins[i].fraction)
            judged.margins[i] = margins[i];
    }
    for (const auto& event : outcome.verdict)
        if (!event.passed() && !judged.breach) {
            auto& breach = judged.breach.emplace();
            breach.finding = first_of(event.findings);
            breach.event = event.event.what;
        }
    if (!outcome.record.failure.empty() && !judged.breach) {
        judged.breach.emplace().failure = outcome.record.failure;
        judged.complete = false;
    }
    if (judged.breach)
        judged.breach->condition = where;
}

/// As the command `run` does it.
void run_on_enough_grids(const std::vector<scenarios::Scenario>& scenarios,
                         const std::function<void(std::size_t, const Outcome&)>& done) {
    for (std::size_t i = 0; i < scenarios.size(); ++i) {
        Outcome outcome;
        try {
            outcome = on_enough_grids(scenarios[i], simulate(scenarios[i]));
        } catch (const std::exception& error) {
            outcome.record.failure = error.what();
        }
        done(i, outcome);
    }
}

/// Lanes for so many runs of one thread.
std::size_t lanes_for(std::size_t runs) {
    std::size_t lanes = 2;
    while (lanes < runs && 2 * lanes <= sim::lanes_here())
        lanes *= 2;
    return lanes;
}

} // namespace

TurnSearch::TurnSearch(const WindowQuestion& question)
    : question_{question}, file_{question.scenario, hardware_folders()} {
    conditions_.emplace_back();
    const std::size_t ranges = question.over.size();
    for (std::size_t corner = 0; ranges > 0 && corner < (std::size_t{1} << ranges); ++corner) {
        std::vector<Override> condition;
        for (std::size_t i = 0; i < ranges; ++i) {
            const auto& range = question.over[i];
            condition.push_back({.text = range.key + "=" + ((corner >> i & 1) != 0 ? range.high : range.low),
                                 .place = fmt::format("--over {}={}..{}", range.key, range.low, range.high)});
        }
        conditions_.push_back(std::move(condition));
    }
}

void TurnSearch::check() const {
    for (const auto& condition : conditions_)
        for (const double turns : {question_.fewest, question_.most}) {
            const auto scenario = read(Setting(question_.needles.size(), turns), condition);
            if (margins_of(scenario, {}).empty())
                throw std::runtime_error(
                    fmt::format("{}: no limits under [accept]: nothing tells good turns from bad",
                                question_.scenario.string()));
        }
}

void TurnSearch::judge(const std::vector<Setting>& settings) {
    std::vector<Setting> due;
    for (const auto& setting : settings)
        if (!known_.contains(setting) && std::ranges::find(due, setting) == due.end())
            due.push_back(setting);
    judge(due, [this](const auto& scenarios, const Done& done) { run_on_one_grid(scenarios, done); });
}

bool TurnSearch::confirmed(const Setting& setting) {
    judge({setting}, run_on_enough_grids);
    return known_[setting].good();
}

std::vector<Tried> TurnSearch::tried() const {
    std::vector<Tried> all;
    for (const auto& [setting, judged] : known_)
        all.push_back({setting, judged.least(), judged.breach});
    return all;
}

scenarios::Scenario TurnSearch::read(const Setting& setting, const std::vector<Override>& condition) const {
    auto overrides = question_.set;
    overrides.insert(overrides.end(), condition.begin(), condition.end());
    for (std::size_t i = 0; i < setting.size(); ++i)
        overrides.push_back({.text = fmt::format("{}={} turns", question_.needles[i], setting[i]),
                             .place = "--key " + question_.needles[i]});
    return file_.read(overrides);
}

void TurnSearch::judge(const std::vector<Setting>& settings, const Runs& run) {
    std::vector<Judged> judged(settings.size());
    for (const auto& condition : conditions_) {
        std::string where;
        for (const auto& change : condition)
            where += (where.empty() ? "" : ", ") + change.text;
        std::vector<std::size_t> open;
        std::vector<scenarios::Scenario> scenarios;
        for (std::size_t i = 0; i < settings.size(); ++i)
            if (judged[i].good()) {
                open.push_back(i);
                scenarios.push_back(read(settings[i], condition));
            }
        run(scenarios, [&](std::size_t i, const Outcome& outcome) {
            ++runs_;
            add(judged[open[i]], scenarios[i], outcome, where);
            if (question_.one_more)
                question_.one_more();
        });
    }
    for (std::size_t i = 0; i < settings.size(); ++i)
        known_[settings[i]] = std::move(judged[i]);
}

void TurnSearch::run_on_one_grid(const std::vector<scenarios::Scenario>& scenarios, const Done& done) const {
    if (scenarios.empty())
        return;
    // In lanes several runs take little longer than one, but a few are sooner done one to a processor. It hangs on the count alone,
    // so that what is found is the same on every machine.
    constexpr std::size_t few = 3;
    const auto threads = std::min<std::size_t>(question_.threads, scenarios.size());
    const auto lanes = scenarios.size() <= few ? 1 : lanes_for((scenarios.size() + threads - 1) / threads);
    const auto form = scenarios::build(scenarios.front()).parts;
    std::atomic<std::size_t> next{0};
    std::mutex mutex;
    on_threads(threads, [&] {
        run_side_by_side(
            form,
            {[&]() -> std::optional<WantedRun> {
                 const std::size_t i = next++;
                 return i < scenarios.size() ? std::optional(WantedRun{i, scenarios[i]}) : std::nullopt;
             },
             judged_signals,
             [&](std::size_t i, const Outcome& outcome) {
                 const std::scoped_lock lock(mutex);
                 done(i, outcome);
                 return true;
             },
             [] { return true; }},
            lanes);
    });
}

} // namespace needleturn
