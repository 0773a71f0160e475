// What exact slopes of a traced run cost against central differences of the same runs, and how long a whole fit takes: dairy-logged,
// 20 s at 100 Hz, 10 and 20 unknowns.
#include "sim/normal_draw.h"
#include "tools/studies/crew.h"
#include "tools/studies/fit.h"
#include "tools/studies/gauge.h"
#include "tools/studies/traced_run.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <filesystem>
#include <random>
#include <string>
#include <vector>

using namespace needleturn;
using scenarios::Logged;

namespace {

constexpr double duration = 20, readings_interval = 0.01; // s
constexpr std::uint64_t seed = 1;                         // of the noise

scenarios::ScenarioFile dairy() {
    const std::filesystem::path source{NEEDLETURN_SOURCE_DIR};
    const scenarios::ScenarioFile file(source / "scenarios/dairy-logged.toml",
                                       std::vector{source / "scenarios/hardware"}, {});
    return file.with({{"run.duration=20 s"}, {"main.opening_control=1.5 turns"}});
}

/// The first `count` of the ranges of the hardware, and the air in the cover.
std::vector<Unknown> unknowns(std::size_t count) {
    auto all = unknowns_of(dairy().read(), {});
    std::erase_if(all, [](const auto& unknown) { return unknown.of_gauge(); });
    const auto air = std::ranges::find(all, "main.air_in_cover", &Unknown::key);
    std::rotate(all.begin(), air, air + 1);
    all.resize(count);
    return all;
}

/// Seconds by the clock, the median of five.
template <class Work> double median_of(const Work& work) {
    std::vector<double> seconds(5);
    for (auto& each : seconds) {
        const auto begin = std::chrono::steady_clock::now();
        work();
        each = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    }
    std::ranges::nth_element(seconds, seconds.begin() + 2);
    return seconds[2];
}

scenarios::Trace trace_of(const TracedQuestion& question) {
    const Eigen::VectorXd truth =
        Eigen::VectorXd::Constant(static_cast<Eigen::Index>(question.unknowns.size()), 0.3);
    const auto run = run_traced(question, truth, false);
    scenarios::Trace trace;
    for (int i = 0; i * readings_interval <= duration; ++i)
        trace.time.push_back(i * readings_interval);
    trace.channels.push_back({Logged::outlet, "outlet", {}});
    std::mt19937_64 draw(seed);
    sim::NormalDraw normal;
    constexpr double noise = 1e3; // Pa
    for (const double pressure : seen_by({}, run.values.col(0), question.interval, trace.time))
        trace.channels[0].values.push_back(pressure + noise * normal(draw));
    return trace;
}

} // namespace

int main() {
    constexpr double interval = readings_interval / 2;
    constexpr auto instants = static_cast<std::size_t>(duration / interval) + 1;
    fmt::print("| unknowns | run, ms | its slopes, ms | central differences over slopes | fit, s, {} threads "
               "| runs |\n"
               "|---|---|---|---|---|---|\n",
               all_processors());
    for (const std::size_t count : {std::size_t{10}, std::size_t{20}}) {
        const TracedQuestion question{dairy(), unknowns(count), {Logged::outlet}, interval, instants, 1};
        const Eigen::VectorXd z = Eigen::VectorXd::Constant(static_cast<Eigen::Index>(count), 0.1);
        const double plain = median_of([&] { (void)run_traced(question, z, false); });
        const double slopes = median_of([&] { (void)run_traced(question, z, true); });
        const FitQuestion asked{.file = dairy(),
                                .trace = trace_of(question),
                                .unknowns = question.unknowns,
                                .threads = all_processors(),
                                .progress = {}};
        std::size_t runs = 0;
        const double whole = median_of([&] { runs = fit(asked).runs; });
        constexpr double ms = 1e3;
        fmt::print("| {} | {:.1f} | {:.1f} | {:.2f} | {:.1f} | {} |\n", count, plain * ms, slopes * ms,
                   2 * static_cast<double>(count) * plain / slopes, whole, runs);
    }
    return 0;
}
