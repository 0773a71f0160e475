#include "tests/bench/cvode.h"
#include "tests/bench/own.h"
#include "tests/bench/station_sweep.h"
#include "tests/bench/sweep_sections.h"
#include "tests/bench/work_precision.h"

#include <fmt/core.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <map>
#include <memory>
#include <string>
#include <thread>
#include <vector>

namespace needleturn::bench {

namespace {

void print_cost(const char* name, std::size_t width, std::size_t cases, const Cost& cost,
                const Cost& of_scalar) {
    fmt::print("| {} | {} | {:.2f} | {} | {:.2f} | {} | {:.2f} | {:.1f} k |\n", name,
               width == 1 ? "scalar" : fmt::format("{} lanes", width),
               1e3 * cost.seconds / static_cast<double>(cases), cost.attempts,
               1e6 * cost.seconds / static_cast<double>(width == 1 ? cost.attempts : cost.rounds),
               width == 1 ? std::string("-")
                          : fmt::format("{:.0f} %", 100 * static_cast<double>(cost.attempts)
                                                        / static_cast<double>(cost.rounds * width)),
               of_scalar.seconds / cost.seconds, 1e-3 * duration * static_cast<double>(cases) / cost.seconds);
}

} // namespace

void lanes_section(const Station& without_friction) {
    fmt::print(
        "## Lanes against scalar code, one core, integration alone\n\n"
        "Reference stage, {} s, tolerance 1e-4. Processor time of one thread, the best of 3.\n\n"
        "| sweep | code | ms per case | attempts | us per attempt or round | lane use | times scalar | "
        "simulated s per s |\n|---|---|---|---|---|---|---|---|\n",
        duration);
    // That of the generic DN65.
    auto parts = without_friction.parts();
    auto& valve = parts.stages.front().valve;
    valve.friction = models::StemFriction::of(3.38, 3.38, 20e-6, valve.moving_mass);
    const Station with(parts);
    const auto by_day = evenly(steady, 0.5, 6, 512), by_night = evenly(falling, 2, 6, 128);
    const struct {
        const char* name;
        std::vector<Setting> settings;
        const Station& station;
    } sweeps[] = {{"steady", by_day, without_friction},
                  {"steady, a stem that sticks", by_day, with},
                  {"hunting", by_night, without_friction},
                  {"hunting, a stem that sticks", by_night, with},
                  {"mixed, with air", mixed(512), without_friction}};
    for (const auto& [name, settings, station] : sweeps) {
        const auto cases = cases_of(settings, station.parts().stages.front().valve.friction);
        std::map<std::size_t, Cost> best;
        const auto keep = [&](std::size_t width, const Cost& cost) {
            if (!best.contains(width) || cost.seconds < best[width].seconds)
                best[width] = cost;
        };
        constexpr double tolerance = 1e-4;
        for (int repeat = 0; repeat < 3; ++repeat) {
            keep(1, scalar(station, cases, tolerance));
            keep(2, lanes<2>(station, cases, tolerance));
            if (sim::lanes_here() >= 4)
                keep(4, lanes<4>(station, cases, tolerance));
            if (sim::lanes_here() >= 8)
                keep(8, lanes<8>(station, cases, tolerance));
        }
        for (const auto& [width, cost] : best)
            print_cost(name, width, cases.size(), cost, best[1]);
        std::fflush(stdout);
    }
    fmt::print("\n");
}

void threads_section(const Station& station) {
    const auto cases = cases_of(mixed(256));
    fmt::print("## Threads\n\n256 of the mixed cases in lanes.\n\n| threads | wall s | processor s | per "
               "case: ms of "
               "processor |\n|---|---|---|---|\n");
    double walls[2] = {}, processors[2] = {};
    for (const unsigned threads : {1u, 2u}) {
        std::atomic<std::size_t> next{0};
        std::atomic<double> processor{0};
        const auto start = std::chrono::steady_clock::now();
        {
            std::vector<std::jthread> crew;
            for (unsigned i = 0; i < threads; ++i)
                crew.emplace_back(
                    [&] { processor += widest_lanes(station, cases, 1e-4, [&] { return next++; }).seconds; });
        }
        walls[threads - 1] = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
        processors[threads - 1] = processor;
        fmt::print("| {} | {:.2f} | {:.2f} | {:.2f} |\n", threads, walls[threads - 1],
                   processors[threads - 1],
                   1e3 * processors[threads - 1] / static_cast<double>(cases.size()));
    }
    fmt::print("\nTwo threads: {:.2f} times by the clock on the wall, {:.2f} times by processor time (what "
               "it would be "
               "with both cores free).\n\n",
               walls[0] / walls[1], 2 * processors[0] / processors[1]);
    std::fflush(stdout);
}

namespace {

/// What is taken of a curve over a sample of cases.
struct Sampled {
    std::vector<double> errors; ///< bar, one per case
    double seconds = 0;         ///< of all
    std::size_t steps = 0, given_up = 0;
};

/// Least time of `other` over that of `ours` at each error, by the same straight lines as bench_stepper's.
void print_ratios(const char* which, const Curve& other, const Curve& ours,
                  const std::vector<double>& errors) {
    fmt::print("| {} |", which);
    for (const double error : errors) {
        const auto slow = time_at(other, error), fast = time_at(ours, error);
        fmt::print(" {} |", slow && fast ? fmt::format("{:.0f}", *slow / *fast) : std::string("-"));
    }
    fmt::print("\n");
}

} // namespace

void cvode_section(const Station& station) {
    constexpr std::size_t all = 1000, every = 91; // odd: both demands in turn
    constexpr double interval = 0.01;             // s
    const auto settings = mixed(all);
    const auto cases = cases_of(settings);
    // CVODE needs tighter ones for the same error.
    const std::vector<double> tolerances{1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8};
    constexpr double tightest_of_lanes = 1e-6;
    std::vector<std::unique_ptr<Method>> methods;
    methods.push_back(std::make_unique<Own>());
    methods.push_back(std::make_unique<Cvode>("CVODE, order <= 2", Cvode::Settings{}));

    std::vector<std::vector<Sampled>> sampled(methods.size(), std::vector<Sampled>(tolerances.size()));
    std::size_t sample = 0;
    for (std::size_t i = 0; i < all; i += every, ++sample) {
        const auto& setting = settings[i];
        // Where the demand falls, until it begins to hunt: after that two traces tell nothing of errors.
        const double until = setting.flows == steady ? duration : 20;
        StationProblem problem(setting.flows, 1000, duration, setting.turns, setting.air);
        StationProblem compared(setting.flows, 1000, until, setting.turns, setting.air);
        Trace reference{interval, {}};
        methods[0]->run(compared, 1e-10, &reference);
        const Plan plan{.tolerances = tolerances,
                        .begin = 0,
                        .end = static_cast<std::size_t>(std::lround(until / interval)),
                        .interval = interval,
                        .longest = 20,
                        .repetitions = 1};
        const auto curves = measure(problem, methods, reference.pressure, plan);
        for (std::size_t m = 0; m < methods.size(); ++m)
            for (std::size_t k = 0; k < tolerances.size(); ++k) {
                const auto& point = curves[m].points[k];
                auto& at = sampled[m][k];
                at.errors.push_back(point.error);
                at.seconds += point.time;
                at.steps += point.work.steps;
                at.given_up += point.work.failure.empty() ? 0 : 1;
            }
    }

    fmt::print(
        "## 1,000 mixed cases against one CVODE BDF of order <= 2 per case, one thread each\n\n"
        "Air 0 to 100 mL, opening control 0.5 to 6 turns, demand 20 -> 12 -> 8 or 10 -> 3 -> 1 -> 0.3 L/s, "
        "{} s, integration alone. Lanes: all 1,000. CVODE: {} of them, its time scaled by the steps that our "
        "scalar code takes in all over those it takes in the sample, for some cases are dearer than others. "
        "Error: largest difference of the outlet pressure from ours at 1e-10, until 20 s where the demand "
        "falls; that of lanes is the scalar code's.\n\n"
        "| method | tolerance | error of the median case, bar | of the worst | ms per case | given up |\n"
        "|---|---|---|---|---|---|\n",
        duration, sample);
    struct Fitted {
        const char* name;
        Curve median, worst;
    } lanes{"lanes", {}, {}}, cvode{"CVODE, order <= 2", {}, {}};
    const auto add = [&](Fitted& to, const Sampled& of, double tolerance, double time) {
        const Work work{.failure = of.given_up > 0 ? "given up" : ""};
        to.median.points.push_back({tolerance, median(of.errors), time, work, {}});
        to.worst.points.push_back({tolerance, std::ranges::max(of.errors), time, work, {}});
        fmt::print("| {} | {:.0e} | {:.1e} | {:.1e} | {:.2f} | {} |\n", to.name, tolerance,
                   to.median.points.back().error, to.worst.points.back().error, 1e3 * time, of.given_up);
    };
    double share = 1; // of an average case in a case of the sample, by steps
    for (std::size_t k = 0; k < tolerances.size(); ++k) {
        if (tolerances[k] >= tightest_of_lanes) {
            const Cost cost = widest_lanes(station, cases, tolerances[k]);
            share = static_cast<double>(cost.steps * sample) / static_cast<double>(sampled[0][k].steps * all);
            add(lanes, sampled[0][k], tolerances[k], cost.seconds / all);
        }
        add(cvode, sampled[1][k], tolerances[k], share * sampled[1][k].seconds / static_cast<double>(sample));
    }
    const std::vector<double> errors{1, 0.3, 0.1, 3e-2, 1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5};
    fmt::print("\nTime of CVODE over that of lanes at the same error:\n\n| error |");
    for (const double error : errors)
        fmt::print(" {:.0e} bar |", error);
    fmt::print("\n|---|");
    for (std::size_t i = 0; i < errors.size(); ++i)
        fmt::print("---|");
    fmt::print("\n");
    print_ratios("of the median case", cvode.median, lanes.median, errors);
    print_ratios("of the worst case", cvode.worst, lanes.worst, errors);
    fmt::print("\n");
    std::fflush(stdout);
}

} // namespace needleturn::bench
