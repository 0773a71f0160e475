#include "tools/studies/site_test.h"

#include "scenarios/build.h"
#include "scenarios/demands.h"
#include "sim/equilibrium.h"
#include "sim/integrate.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/crew.h"
#include "tools/studies/hand_times.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/outlets.h"
#include "tools/studies/started_run.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <mutex>
#include <numeric>
#include <optional>
#include <random>
#include <span>
#include <stdexcept>
#include <string>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Scenario;
using Kind = SiteTest::Kind;

// Times of hands are common practice, no source.
constexpr double begin =
    1; // s, when the flow of before is reached: a small change that shows whether it is steady
constexpr double nudge = 0.9;    // of the flow of before, until then
constexpr double change_at = 11; // s
constexpr double end_at = 31;    // s
constexpr double brisk = 1;      // s, to open outlets
constexpr double fast = 0.5;     // s, to shut them
constexpr double half_a_turn = 0.5;
constexpr double still = 5; // s, at the end of a flow, over which a gauge is read

const scenarios::Stage* first_pilot(const Scenario& scenario) {
    const auto& stages = scenario.stages;
    const auto stage = std::ranges::find_if(stages, &scenarios::Stage::is_main);
    return stage == stages.end() ? nullptr : &*stage;
}

/// The test with a needle half a turn further in and out, where it can be turned so.
void add_needle(std::vector<SiteTest>& tests, SiteTest test, const std::string& needle, double turns,
                double full_turns) {
    test.needle = needle;
    test.turns_before = turns;
    for (const double other : {turns - half_a_turn, turns + half_a_turn}) {
        test.turns = other;
        if (other > 0 && other <= full_turns)
            tests.push_back(test);
    }
}

TestReading of_gauge(double value) { return {value, std::max(gauge_error, 0.05 * std::abs(value))}; }
TestReading of_needle_in_motion(double value) {
    return {value, std::max(2 * gauge_error, 0.1 * std::abs(value))};
}
TestReading of_watch(double value) { return {value, std::max(watch_error, 0.1 * value)}; }

/// How a gauge shakes: not, or so far and so fast.
void add_shaking(std::vector<TestReading>& readings, const sim::Hunting& hunting) {
    const bool shakes = hunting.hunts() && hunting.frequency > 0;
    readings.push_back(of_needle_in_motion(shakes ? hunting.swing() : 0));
    constexpr double tenth = 0.1; // of a period counted over several; s
    const double period = shakes ? 1 / hunting.frequency : 0;
    readings.push_back({period, std::max(tenth, tenth * period)});
}

struct TestRun {
    std::vector<TestReading> readings; ///< none: it could not be run to its end
    double highest = -std::numeric_limits<double>::infinity(),
           lowest = std::numeric_limits<double>::infinity();
};

double mean(std::span<const double> signal, double from, double to, double interval) {
    const auto at = [&](double t) {
        return std::min(signal.size(), static_cast<std::size_t>(std::lround(t / interval)));
    };
    const auto part = signal.subspan(at(from), at(to) - at(from));
    return std::accumulate(part.begin(), part.end(), 0.0) / static_cast<double>(part.size());
}

TestRun read_off(const Scenario& scenario, const SiteTest& test, const std::string& cover,
                 const sim::Recording& recording, double interval) {
    TestRun run;
    const auto events = measure(scenario, recording, interval);
    const auto& outlet = recording["outlet.pressure"];
    const double before = mean(outlet, change_at - still, change_at, interval);
    const double after = mean(outlet, end_at - still, end_at, interval);
    run.highest = *std::ranges::max_element(outlet);
    run.lowest = *std::ranges::min_element(outlet);
    auto& readings = run.readings;
    readings.push_back(of_gauge(after - before)); // differences, in which the gauge's offset drops out
    add_shaking(readings, events.at(1).hunting);
    if (test.kind == Kind::cover_gauge) {
        const auto& pressure = recording[cover];
        const double at_low = mean(pressure, change_at - still, change_at, interval);
        readings.push_back(of_gauge(mean(pressure, end_at - still, end_at, interval) - at_low));
        return run;
    }
    const auto& changed = events.at(2);
    readings.push_back(of_needle_in_motion(changed.highest - before));
    readings.push_back(of_needle_in_motion(changed.lowest - before));
    const double settled = changed.settling_time;
    readings.push_back(of_watch(std::isfinite(settled) ? settled : end_at - change_at));
    add_shaking(readings, changed.hunting);
    return run;
}

TestRun run_test(const Scenario& scenario, const SiteTest& test, const std::function<bool()>& wanted) {
    const auto* pilot = first_pilot(scenario);
    const auto cover = pilot != nullptr ? pilot->name + ".cover_pressure" : std::string();
    auto signals = judged_signals(scenario);
    if (test.kind == Kind::cover_gauge)
        signals.push_back(cover);
    try {
        StartedRun run(scenario, scenarios::build(scenario), signals);
        sim::Counts counts;
        struct Stopped {};
        try {
            sim::integrate(run.system, run.y, 0, scenario.run.duration, {scenario.run.tolerance}, counts,
                           [&](const auto& stepper) {
                               run.observe(stepper);
                               if (!wanted())
                                   throw Stopped{};
                           });
        } catch (const Stopped&) {
            return {};
        }
        const double interval = run.interval;
        return read_off(scenario, test, cover, std::move(run.recorder).recording(), interval);
    } catch (const sim::IntegrationFailure&) {
        return {};
    } catch (const sim::NoEquilibrium&) {
        return {};
    }
}

/// How the scenario's own run ends on each valve.
std::vector<int> verdicts_of(const Sweep& sweep, const NextTestQuestion& question) {
    std::vector<int> verdicts(sweep.study.cases());
    const auto wanted = [&] { return !question.go_on || question.go_on(); };
    run_all_cases(
        sweep, question.threads,
        [&](std::size_t number, const sim::CaseRows& rows) {
            verdicts[number] = static_cast<int>(case_end(sweep, rows));
            if (question.one_more)
                question.one_more();
            return wanted();
        },
        wanted);
    return verdicts;
}

struct MeanOf {
    double value = 0, error = 0; ///< error: standard error
};

/// Of those values that are known, two or more.
MeanOf mean_of(std::vector<double> values) {
    std::erase_if(values, [](double x) { return std::isnan(x); });
    const auto n = static_cast<double>(values.size());
    MeanOf mean{.value = std::accumulate(values.begin(), values.end(), 0.0) / n};
    for (const double value : values)
        mean.error += std::pow(value - mean.value, 2);
    mean.error = std::sqrt(mean.error / (n * (n - 1)));
    return mean;
}

TestWorth worth_of(const SiteTest& test, const std::vector<int>& verdicts, const std::vector<TestRun>& runs,
                   const scenarios::Accept& accept, std::uint64_t seed) {
    constexpr double infinity = std::numeric_limits<double>::infinity();
    TestWorth worth{.test = test,
                    .gains = std::vector<double>(runs.size(), std::numeric_limits<double>::quiet_NaN()),
                    .highest = -infinity,
                    .lowest = infinity};
    std::vector<std::size_t> known;
    std::vector<int> verdict;
    std::vector<std::vector<TestReading>> readings;
    for (std::size_t i = 0; i < runs.size(); ++i) {
        if (runs[i].readings.empty())
            continue;
        worth.highest = std::max(worth.highest, runs[i].highest);
        worth.lowest = std::min(worth.lowest, runs[i].lowest);
        worth.above += runs[i].highest > accept.highest_outlet_pressure.value_or(infinity) ? 1 : 0;
        known.push_back(i);
        verdict.push_back(verdicts[i]);
        readings.push_back(runs[i].readings);
    }
    worth.valves = known.size();
    if (worth.valves < 2)
        return worth;
    const auto before = score(verdict, {}, seed).open;
    const auto after = score(verdict, readings, seed);
    for (std::size_t k = 0; k < known.size(); ++k)
        worth.gains[known[k]] = before[k] - after.open[k];
    worth.told = after.told;
    worth.open_before = mean_of(before).value;
    const auto taken = mean_of(worth.gains);
    worth.taken = taken.value;
    worth.error = taken.error;
    return worth;
}

/// Whether more than two standard errors of the difference, valve by valve, lie between what they take.
bool told_from(const TestWorth& first, const TestWorth& other) {
    if (first.valves < 2 || other.valves < 2)
        return first.valves >= 2;
    auto differences = first.gains;
    for (std::size_t i = 0; i < differences.size(); ++i)
        differences[i] -= other.gains[i];
    if (std::ranges::count_if(differences, [](double x) { return !std::isnan(x); }) < 2)
        return false;
    const auto difference = mean_of(differences);
    return difference.value > 2 * difference.error;
}

} // namespace

std::vector<SiteTest> site_tests(const Scenario& stated) {
    const auto flows = proof_flows(stated);
    // One flow alone: half of it is the lower one.
    const double low = flows.low < flows.full ? flows.low : 0.5 * flows.full;
    const SiteTest open{Kind::open_outlets, low, flows.full, brisk, "", 0, 0};
    const SiteTest shut{Kind::shut_fast, flows.full, low, fast, "", 0, 0};
    std::vector<SiteTest> tests{open, shut, {Kind::stop, flows.full, 0, hand_times::slow_hand, "", 0, 0}};
    if (const auto* pilot = first_pilot(stated)) {
        const double full_turns = pilot->pilot_operated()->speed_control.full_turns;
        tests.push_back({Kind::cover_gauge, low, flows.full, hand_times::slow_hand, "", 0, 0});
        add_needle(tests, open, pilot->name + ".opening_control", pilot->opening_control, full_turns);
        add_needle(tests, shut, pilot->name + ".closing_control", pilot->closing_control, full_turns);
    }
    return tests;
}

Scenario under_test(const Scenario& stated, const SiteTest& test) {
    auto scenario = as_adjusted(stated);
    hold_supply(scenario);
    const auto shares = shares_of(stated);
    lay_flow(scenario, nudge * test.from, shares);
    visit_shares(scenario, shares, [&](const std::string&, scenarios::Demand& demand, double share) {
        if (share > 0)
            demand.steps = {{begin, share * test.from, begin}, {change_at, share * test.to, test.within}};
    });
    scenario.run.duration = end_at;
    scenario.run.record_knock = 0;
    for (auto& stage : scenario.stages) {
        if (test.needle == stage.name + ".opening_control")
            stage.opening_control = test.turns;
        if (test.needle == stage.name + ".closing_control")
            stage.closing_control = test.turns;
    }
    return scenario;
}

std::size_t runs_of(const NextTestQuestion& question, const Scenario& stated) {
    return question.family.valves * (1 + site_tests(stated).size());
}

ScoredVerdicts score(const std::vector<int>& verdicts, const std::vector<std::vector<TestReading>>& readings,
                     std::uint64_t seed) {
    constexpr std::size_t draws = 16;
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    ScoredVerdicts scored{.open = std::vector<double>(verdicts.size(), 0)};
    std::vector<double> distance(verdicts.size());
    for (std::size_t i = 0; i < verdicts.size(); ++i)
        for (std::size_t draw = 0; draw < draws; ++draw) {
            std::ranges::fill(distance, 0);
            for (std::size_t k = 0; !readings.empty() && k < readings[i].size(); ++k) {
                const auto& [value, error] = readings[i][k];
                const double read = value + error * normal(random);
                for (std::size_t j = 0; j < verdicts.size(); ++j)
                    distance[j] += std::pow((read - readings[j][k].value) / error, 2) / 2;
            }
            distance[i] = std::numeric_limits<double>::infinity();
            const double nearest = *std::ranges::min_element(distance);
            std::map<int, double> likely;
            double all = 0;
            for (std::size_t j = 0; j < verdicts.size(); ++j) {
                const double weight =
                    std::exp(nearest - distance[j]); // the nearest counts 1, however far it is
                likely[verdicts[j]] += weight;
                all += weight;
            }
            for (const auto& [verdict, weight] : likely)
                scored.open[i] += std::pow(weight / all - (verdict == verdicts[i] ? 1 : 0), 2) / draws;
            const auto likeliest =
                std::ranges::max_element(likely, {}, [](const auto& each) { return each.second; });
            scored.told += (likeliest->first == verdicts[i] ? 1.0 : 0.0) / draws;
        }
    return scored;
}

NextTests next_tests(const NextTestQuestion& question) {
    const auto sweep = family_sweep(question.family);
    if (!scenarios::states_a_limit(sweep.base.accept))
        throw std::runtime_error(fmt::format("{}: no limits under [accept]: there is no verdict to learn of",
                                             question.family.scenario.string()));
    const auto tests = site_tests(sweep.base);
    std::mutex mutex;
    NextTests next;
    const auto verdicts = verdicts_of(sweep, question);
    for (const int verdict : verdicts)
        ++(verdict == static_cast<int>(CaseEnd::kept)     ? next.kept
           : verdict == static_cast<int>(CaseEnd::broken) ? next.broken
                                                          : next.unknown);
    const auto wanted = [&] { return !question.go_on || question.go_on(); };
    if (!wanted() || next.valves() - next.most() < NextTests::fewest_others)
        return next;

    const std::size_t valves = verdicts.size();
    std::vector<std::vector<TestRun>> runs(tests.size(), std::vector<TestRun>(valves));
    share_out(tests.size() * valves, question.threads, [&] {
        return [&, cases = Cases(sweep.study)](std::size_t number) mutable {
            const auto& test = tests[number / valves];
            const auto valve = sweep.file.read(cases.overrides(number % valves));
            runs[number / valves][number % valves] = run_test(under_test(valve, test), test, wanted);
            if (question.one_more) {
                const std::scoped_lock lock(mutex);
                question.one_more();
            }
            return wanted();
        };
    });
    for (std::size_t t = 0; t < tests.size(); ++t)
        next.tests.push_back(worth_of(tests[t], verdicts, runs[t], sweep.base.accept, question.family.seed));
    std::ranges::stable_sort(next.tests, std::ranges::greater{}, &TestWorth::taken);
    for (std::size_t t = 0; t < next.tests.size(); ++t) {
        const auto& test = next.tests[t];
        if (!test.tells() || test.harms())
            continue;
        if (!next.best)
            next.best = t;
        else if (!told_from(next.tests[*next.best], test))
            next.as_good.push_back(t);
    }
    return next;
}

} // namespace needleturn
