#include "tools/run.h"

#include "scenarios/read_scenario.h"
#include "sim/results_file.h"
#include "tools/exit_code.h"
#include "tools/simulate.h"
#include "tools/verdict_text.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

namespace needleturn {

namespace {

struct RunOptions {
    std::vector<std::string> scenarios;
    std::string output;
    std::vector<std::string> set;
};

volatile std::sig_atomic_t interrupted = 0;

/// A line on a terminal that tells how far a long run has come; silent elsewhere. Watches for Ctrl-C too.
class ProgressLine {
  public:
    explicit ProgressLine(double duration) : duration_{duration}, shown_{isatty(fileno(stderr)) != 0} {
        std::signal(SIGINT, [](int) { interrupted = 1; });
    }
    ~ProgressLine() {
        if (written_)
            fmt::print(stderr, "\r\033[K");
    }
    ProgressLine(const ProgressLine&) = delete;
    ProgressLine& operator=(const ProgressLine&) = delete;

    bool operator()(double time) {
        using clock = std::chrono::steady_clock;
        constexpr auto pause = std::chrono::milliseconds(200);
        if (shown_ && clock::now() - last_ > pause) {
            last_ = clock::now();
            written_ = true;
            fmt::print(stderr, "\r  {:.1f} of {:.1f} s simulated", time, duration_);
        }
        return interrupted == 0;
    }

  private:
    double duration_;
    bool shown_;
    bool written_ = false;
    std::chrono::steady_clock::time_point last_ = std::chrono::steady_clock::now();
};

/// Where each scenario's results go: `output` itself for one scenario, a folder for several; beside nothing given,
/// "<scenario>.h5" in the current folder. Throws std::runtime_error for places that cannot take a file, before any time is
/// spent on simulating.
std::vector<std::filesystem::path> result_paths(const RunOptions& options) {
    namespace fs = std::filesystem;
    std::vector<fs::path> paths;
    if (options.scenarios.size() == 1 && !options.output.empty() && !fs::is_directory(options.output)) {
        paths.emplace_back(options.output);
    } else {
        const fs::path folder = options.output.empty() ? fs::path(".") : fs::path(options.output);
        if (!fs::is_directory(folder))
            throw std::runtime_error(
                fmt::format("{}: no such folder; with several scenarios -o names the folder for their files",
                            options.output));
        for (const auto& scenario : options.scenarios)
            paths.push_back(folder / fs::path(scenario).stem().concat(".h5"));
    }
    std::set<fs::path> seen;
    for (const auto& path : paths) {
        const auto folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
        if (!fs::is_directory(folder))
            throw std::runtime_error(
                fmt::format("{}: no such folder to write results into", folder.string()));
        if (access(folder.c_str(), W_OK) != 0)
            throw std::runtime_error(
                fmt::format("{}: no permission to write results into this folder", folder.string()));
        if (!seen.insert(path).second)
            throw std::runtime_error(
                fmt::format("{}: two scenarios would write this file; run them apart", path.string()));
    }
    return paths;
}

int run(const RunOptions& options) {
    const auto paths = result_paths(options);
    std::vector<scenarios::Override> overrides;
    for (const auto& text : options.set)
        overrides.push_back({text});
    // All of them are read before the first is run: a typing error in the last must not cost the time of the others.
    std::vector<scenarios::Scenario> all;
    for (const auto& path : options.scenarios)
        all.push_back(scenarios::read_scenario(path, overrides));

    int code = exit_passed;
    for (std::size_t i = 0; i < all.size() && interrupted == 0; ++i) {
        const auto start = std::chrono::steady_clock::now();
        Outcome outcome;
        {
            ProgressLine line(all[i].run.duration);
            outcome = simulate(all[i], [&line](double time) { return line(time); });
        }
        const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - start;
        sim::write_results(paths[i], outcome.record, outcome.stride);
        fmt::print("{}{}", i > 0 ? "\n" : "", verdict_text(all[i], outcome));
        fmt::print("  {}: {} steps, {} rejected, {:.2f} s of computing\n", paths[i].string(),
                   outcome.record.counts.steps, outcome.record.counts.rejected, wall.count());
        if (!outcome.record.failure.empty())
            code = exit_incomplete;
        else if (!outcome.passed)
            code = std::max<int>(code, exit_failed);
    }
    fmt::print("\n{}", caution_text());
    return code;
}

} // namespace

void add_run(CLI::App& program, std::function<int()>& action) {
    const auto options = std::make_shared<RunOptions>();
    auto* command =
        program.add_subcommand("run", "integrate scenarios, write one HDF5 file each, print the verdicts");
    command->add_option("scenario", options->scenarios, "scenario files (.toml)")->required();
    command->add_option(
        "-o,--output", options->output,
        "results file; with several scenarios the folder for them (default: <scenario>.h5 here)");
    command
        ->add_option("--set", options->set,
                     "change a key before running: \"main.opening_control=1.5 turns\"; may be repeated")
        ->take_all()
        ->allow_extra_args(false);
    command->callback([options, &action] { action = [options] { return run(*options); }; });
}

} // namespace needleturn
