/// Work against precision on the reference stage, the project's stepper beside SUNDIALS and Odeint: prints markdown.
#include "tests/bench/arkode.h"
#include "tests/bench/cvode.h"
#include "tests/bench/micro.h"
#include "tests/bench/own.h"
#include "tests/bench/rosenbrock4.h"
#include "tests/bench/work_precision.h"

#include <fmt/core.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace {

using namespace needleturn::bench;

constexpr double duration = 80, interval = 0.01; // s

struct Family {
    const char* name;
    std::size_t begin, end; ///< among the methods
    double goal;            ///< time over ours at the same error, on the steady demand
};

struct Contest {
    std::vector<std::unique_ptr<Method>> methods;
    std::vector<Family> families; ///< the first is ours
};

Contest contest() {
    Contest contest;
    auto& all = contest.methods;
    const auto family = [&](const char* name, double goal) {
        const std::size_t begin = contest.families.empty() ? 0 : contest.families.back().end;
        contest.families.push_back({name, begin, all.size(), goal});
    };
    all.push_back(std::make_unique<Own>());
    family("ours", 1);
    using Exactness = Cvode::Jacobian;
    all.push_back(std::make_unique<Cvode>("CVODE, order <= 2", Cvode::Settings{}));
    all.push_back(std::make_unique<Cvode>("the same, difference quotients",
                                          Cvode::Settings{.jacobian = Exactness::difference_quotient}));
    all.push_back(
        std::make_unique<Cvode>("CVODE, order <= 3, stability limit detection",
                                Cvode::Settings{.highest_order = 3, .stability_limit_detection = true}));
    all.push_back(std::make_unique<Cvode>("CVODE, order <= 5", Cvode::Settings{.highest_order = 5}));
    family("CVODE", 50);
    all.push_back(std::make_unique<Rosenbrock4>());
    family("rosenbrock4", 8);
    all.push_back(std::make_unique<Arkode>("ARKODE ESDIRK436L2SA",
                                           Arkode::Settings{.table = ARKODE_ESDIRK436L2SA_6_3_4}));
    all.push_back(std::make_unique<Arkode>(
        "ARKODE ESDIRK325L2SA, new factors each step",
        Arkode::Settings{.table = ARKODE_ESDIRK325L2SA_5_2_3, .setup_every = 1, .jacobian_every = 10}));
    all.push_back(std::make_unique<Arkode>(
        "ARKODE ESDIRK547L2SA2, new factors each step",
        Arkode::Settings{.table = ARKODE_ESDIRK547L2SA2_7_4_5, .setup_every = 1, .jacobian_every = 10}));
    all.push_back(std::make_unique<Arkode>(
        "ARKODE ARK548L2SA, new factors each step",
        Arkode::Settings{.table = ARKODE_ARK548L2SA_DIRK_8_4_5, .setup_every = 1, .jacobian_every = 10}));
    family("ARKODE", 5);
    // Not a fair rival but an honest question: what would CVODE be with this project's linear algebra?
    all.push_back(std::make_unique<Cvode>("CVODE, order <= 2, our sparse elimination",
                                          Cvode::Settings{.algebra = LinearAlgebra::planned}));
    family("CVODE with our sparse elimination", 0);
    return contest;
}

std::vector<double> trace(Method& method, Problem& problem, double tolerance) {
    Trace trace{interval, {}};
    method.run(problem, tolerance, &trace);
    return trace.pressure;
}

std::size_t sample(double time) { return static_cast<std::size_t>(std::lround(time / interval)); }

std::optional<double> best_time(std::span<const Curve> curves, double error) {
    std::optional<double> best;
    for (const auto& curve : curves)
        if (const auto time = time_at(curve, error))
            best = std::min(best.value_or(*time), *time);
    return best;
}

void print_curves(const std::vector<Curve>& curves) {
    fmt::print("| method | tolerance | error, bar | time, ms | steps | rejected | rates | Jacobians |\n"
               "|---|---|---|---|---|---|---|---|\n");
    for (const auto& curve : curves)
        for (const auto& point : curve.points) {
            const auto& work = point.work;
            fmt::print("| {} | {:.0e} | {} | {} | {} | {} | {} | {} |\n", curve.method, point.tolerance,
                       std::isfinite(point.error) ? fmt::format("{:.1e}", point.error) : "-",
                       work.failure.empty() ? fmt::format("{:.2f}", point.time * 1e3) : work.failure,
                       work.steps, work.rejected, work.rates, work.jacobians);
        }
    fmt::print("\n");
}

void print_ratios(const Contest& contest, const std::vector<Curve>& curves) {
    constexpr double errors[] = {1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 1e-6, 1e-7};
    fmt::print("Time of the best of each family at the same error, over ours:\n\n| family | goal |");
    for (const double error : errors)
        fmt::print(" {:.0e} bar |", error);
    fmt::print("\n|---|---|");
    for ([[maybe_unused]] const double error : errors)
        fmt::print("---|");
    fmt::print("\n");
    for (const auto& family : contest.families) {
        const bool ours = &family == &contest.families.front();
        fmt::print("| {} | {} |", ours ? "ours, ms" : family.name,
                   family.goal > 1 ? fmt::format("{:.0f}", family.goal) : "");
        for (const double error : errors) {
            const auto own = time_at(curves.front(), error);
            const auto other =
                best_time(std::span(curves).subspan(family.begin, family.end - family.begin), error);
            if (ours && own)
                fmt::print(" {:.2f} |", *own * 1e3);
            else if (own && other)
                fmt::print(" {:.1f} |", *other / *own);
            else
                fmt::print(" - |");
        }
        fmt::print("\n");
    }
    fmt::print("\n");
}

/// Peak to peak of the outlet pressure, bar, over the last ten seconds of each demand.
void print_amplitudes(const std::vector<Curve>& curves, std::size_t demands) {
    fmt::print("Peak to peak of the outlet pressure, bar, over the last ten seconds of each demand:\n\n"
               "| method | tolerance |");
    for (std::size_t d = 0; d < demands; ++d)
        fmt::print(" until {:.0f} s |", StationProblem::step_every * static_cast<double>(d + 1));
    fmt::print("\n|---|---|");
    for (std::size_t d = 0; d < demands; ++d)
        fmt::print("---|");
    fmt::print("\n");
    for (const auto& curve : curves)
        for (const auto& point : curve.points) {
            if (!point.work.failure.empty())
                continue;
            fmt::print("| {} | {:.0e} |", curve.method, point.tolerance);
            for (std::size_t d = 0; d < demands; ++d) {
                const double end = StationProblem::step_every * static_cast<double>(d + 1);
                const auto [low, high] = std::minmax_element(
                    point.pressure.begin() + static_cast<std::ptrdiff_t>(sample(end - 10)),
                    point.pressure.begin() + static_cast<std::ptrdiff_t>(sample(end)));
                fmt::print(" {:.3f} |", (*high - *low) / 1e5);
            }
            fmt::print("\n");
        }
    fmt::print("\n");
}

struct Scenario {
    const char* name;
    std::vector<double> flows; ///< L/s
    double damping;            ///< of the main stem, N s/m
    double compared_until;     ///< s: errors are taken from the start to here
    std::vector<double> tolerances;
};

void run(const Scenario& scenario) {
    StationProblem problem(scenario.flows, scenario.damping, duration);
    const bool hunts = scenario.compared_until < duration;
    fmt::print("## {}: demand {} L/s, stem damping {:.0f} N s/m\n\n", scenario.name,
               fmt::join(scenario.flows, " -> "), scenario.damping);
    Contest all = contest();
    const auto end = sample(scenario.compared_until) + 1;

    // The same problem as far as it is compared: CVODE takes long for a tight tolerance.
    StationProblem compared(scenario.flows, scenario.damping, scenario.compared_until);
    auto& ours = *all.methods.front();
    const auto reference = trace(ours, compared, 1e-10);
    Cvode cvode("", {});
    Rosenbrock4 rosenbrock4;
    fmt::print("Reference: ours at 1e-10. It differs by {:.0e} bar from ours at 1e-9, by {:.0e} bar from "
               "rosenbrock4 at "
               "1e-9 and by {:.0e} bar from CVODE of order <= 2 at 1e-10",
               largest_difference(trace(ours, compared, 1e-9), reference, 0, end),
               largest_difference(trace(rosenbrock4, compared, 1e-9), reference, 0, end),
               largest_difference(trace(cvode, compared, 1e-10), reference, 0, end));
    fmt::print(", all over {:.0f} s, on which errors are taken.\n\n", scenario.compared_until);

    const Plan plan{.tolerances = scenario.tolerances,
                    .begin = 0,
                    .end = end,
                    .interval = interval,
                    .longest = hunts ? 10.0 : 3.0,
                    .repetitions = 5};
    const auto curves = measure(problem, all.methods, reference, plan);
    print_ratios(all, curves);
    print_curves(curves);
    if (hunts)
        print_amplitudes(curves, scenario.flows.size());
    std::fflush(stdout);
}

} // namespace

int main() {
    fmt::print(
        "# Stepper: work against precision\n\n"
        "80 s of the reference stage (tests/reference_stage.h), no air. Error: largest difference of the "
        "outlet "
        "pressure from the reference on a grid of 10 ms, by each method's own dense output. Time: processor "
        "time of one thread, median of up to 5 runs, all methods in turn, nothing recorded. Every method "
        "starts "
        "anew at the corners of the demand and has an absolute tolerance per state, its tolerance times the "
        "state's typical size.\n\n");
    const std::vector<double> steady{20, 12, 8}, falling{10, 3, 1, 0.3};
    const std::vector<double> all{1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8},
        some{1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7};
    constexpr double first_hunting = 25; // s: five seconds after the fall to 3 L/s
    run({"Steady", steady, 1000, duration, all});
    run({"Steady, as the trial had it", steady, 200, duration, all});
    run({"Hunting", falling, 1000, first_hunting, some});
    run({"Hunting, as the trial had it", falling, 200, first_hunting, some});

    fmt::print("## Parts of a step\n\n");
    StationProblem problem(steady, 1000, duration);
    fmt::print("{}", micro_table(problem));
}
