#include "tests/bench/micro.h"

#include "sim/integrate.h"
#include "tests/bench/work_precision.h"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <limits>
#include <utility>

namespace needleturn::bench {

namespace {

/// Keeps the compiler from dropping or hoisting work whose results nothing reads.
void touch(std::vector<double>& values) { asm volatile("" : : "r"(values.data()) : "memory"); }

/// Nanoseconds of one call, the least of many batches: what interrupts a batch only makes it longer.
template <class Call> double nanoseconds(const Call& call) {
    constexpr int batches = 50, calls = 2000;
    double least = std::numeric_limits<double>::infinity();
    for (int batch = 0; batch < batches; ++batch) {
        const double begin = processor_time();
        for (int i = 0; i < calls; ++i)
            call();
        least = std::min(least, (processor_time() - begin) / calls * 1e9);
    }
    return least;
}

} // namespace

std::string micro_table(StationProblem& problem) {
    auto& system = problem.system();
    system.enter(0);
    const auto& lu = system.lu();
    std::vector<double> y = problem.start, rate(y.size()), jacobian(problem.jacobian_length), right(y.size());
    system.jacobian(0, y.data(), jacobian.data());
    std::vector<double> matrix(lu.entries());
    constexpr double shift = 1e3; // 1/s: as in a step of some milliseconds
    std::transform(jacobian.begin(), jacobian.begin() + static_cast<std::ptrdiff_t>(lu.entries()),
                   matrix.begin(), [](double value) { return -value; });
    for (const auto at : lu.diagonal())
        matrix[at] += shift;
    auto factored = matrix;
    lu.factor(factored.data());

    std::string table =
        fmt::format("{} states, {} entries in the matrix, fill included.\n\n| part | ns |\n|---|---|\n",
                    y.size(), lu.entries());
    const auto row = [&](const char* part, double time) {
        fmt::format_to(std::back_inserter(table), "| {} | {:.0f} |\n", part, time);
    };
    row("right-hand side", nanoseconds([&] {
            system.rates(0, y.data(), rate.data());
            touch(rate);
        }));
    row("Jacobian, rates and d/dt with it", nanoseconds([&] {
            system.jacobian(0, y.data(), jacobian.data());
            touch(jacobian);
        }));
    std::vector<double> work = matrix;
    row("factorisation, with a copy of the matrix", nanoseconds([&] {
            std::copy(matrix.begin(), matrix.end(), work.begin());
            lu.factor(work.data());
            touch(work);
        }));
    row("solution", nanoseconds([&] {
            std::fill(right.begin(), right.end(), 1.0);
            lu.solve(factored.data(), right.data());
            touch(right);
        }));
    double least = std::numeric_limits<double>::infinity();
    constexpr int runs = 30;
    for (int run = 0; run < runs; ++run) {
        Eigen::VectorXd state =
            Eigen::Map<const Eigen::VectorXd>(y.data(), static_cast<Eigen::Index>(y.size()));
        sim::Counts counts;
        const double begin = processor_time();
        sim::integrate(system, state, 0, problem.corners.back(), {1e-5}, counts, [](const auto&) {});
        least =
            std::min(least, (processor_time() - begin) / static_cast<double>(counts.steps + counts.rejected));
    }
    row("whole attempt of a step, 8 stages", least * 1e9);
    return table;
}

} // namespace needleturn::bench
