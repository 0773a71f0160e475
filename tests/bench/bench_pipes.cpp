// Cost of a step against the number of cells of one pipe: a straight line on a log-log plot, its slope printed. A gentle
// wave runs in the pipe, so that every N takes steps of about the same length; what grows is the work of a step.
#include "tests/pipe_line.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <numbers>
#include <vector>

using namespace needleturn;

namespace {

struct Cost {
    double states, seconds; ///< seconds per step
};

Cost cost_of(std::size_t cells, const models::FrictionMemory& memory, double friction_factor) {
    auto line = tests::bergant_rig(0, cells);
    line.pipe.memory = memory;
    line.pipe.friction_factor = friction_factor;
    double best = 1e9;
    std::size_t states = 0;
    constexpr int repeats = 3;
    for (int repeat = 0; repeat < repeats; ++repeat) {
        tests::LineRun run(line);
        run.set_pressure(
            [&](double x) { return line.reservoir.start() + 1e5 * std::sin(std::numbers::pi / 2 * x); });
        states = run.system().size();
        const std::clock_t start = std::clock(); // of this process: others on the machine do not count
        sim::integrate(run.system(), run.y, 0, 1, {1e-5}, run.counts, [](const auto&) {});
        const double seconds = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
        best = std::min(best, seconds / static_cast<double>(run.counts.steps + run.counts.rejected));
    }
    return {static_cast<double>(states), best};
}

/// Least squares of log(seconds) on log(cells).
double slope(const std::vector<double>& cells, const std::vector<Cost>& costs) {
    double sx = 0, sy = 0, sxx = 0, sxy = 0;
    const auto n = static_cast<double>(cells.size());
    for (std::size_t i = 0; i < cells.size(); ++i) {
        const double x = std::log(cells[i]), y = std::log(costs[i].seconds);
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
    }
    return (n * sxy - sx * sy) / (n * sxx - sx * sx);
}

} // namespace

int main() {
    const struct {
        const char* name;
        models::FrictionMemory memory;
        double friction_factor;
    } kinds[] = {{"constant friction factor", {}, 0.02},
                 {"friction by Churchill", {}, 0},
                 {"and unsteady friction, six filters", models::zielke(models::FrictionFit::six), 0}};
    bool linear = true;
    for (const auto& kind : kinds) {
        std::printf("%s\n  cells  states  us per step  us per step and cell\n", kind.name);
        std::vector<double> cells;
        std::vector<Cost> costs;
        for (std::size_t n = 8; n <= 1024; n *= 2) {
            const auto cost = cost_of(n, kind.memory, kind.friction_factor);
            cells.push_back(static_cast<double>(n));
            costs.push_back(cost);
            std::printf("  %5zu  %6.0f  %11.2f  %8.3f\n", n, cost.states, 1e6 * cost.seconds,
                        1e6 * cost.seconds / static_cast<double>(n));
        }
        constexpr double allowed = 1.15;
        const double measured = slope(cells, costs);
        linear = linear && measured <= allowed;
        std::printf("  slope %.3f (allowed %.2f)\n\n", measured, allowed);
    }
    return linear ? 0 : 1;
}
