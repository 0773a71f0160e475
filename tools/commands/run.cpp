#include "tools/commands/run.h"

#include "scenarios/in_both_systems.h"
#include "scenarios/limits.h"
#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "sim/results_file.h"
#include "sim/spool.h"
#include "tools/commands/event_end_text.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/family_option.h"
#include "tools/commands/interruption.h"
#include "tools/commands/print_text.h"
#include "tools/commands/results_place.h"
#include "tools/commands/run_progress.h"
#include "tools/commands/run_uncertain.h"
#include "tools/commands/set_option.h"
#include "tools/commands/verdict_text.h"
#include "tools/results/run_file.h"
#include "tools/results/told_texts.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/second_grid.h"
#include "tools/studies/simulate.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

constexpr const char* usual_valves = "100";

struct RunOptions {
    std::vector<std::string> scenarios;
    std::string output;
    std::vector<scenarios::Override> set;
    bool force = false;
    FamilyOption family;
    unsigned threads = 0;
};

/// Where each scenario's results go: `output` itself for one scenario, a folder for several; beside nothing given,
/// "<scenario>.h5" in the current folder. Throws std::runtime_error for places that cannot take a file, before any time is
/// spent on simulating.
std::vector<std::filesystem::path> result_paths(const RunOptions& options) {
    namespace fs = std::filesystem;
    std::vector<fs::path> paths;
    if (options.scenarios.size() == 1 && !options.output.empty() && !is_folder(options.output)) {
        paths.emplace_back(options.output);
    } else {
        const fs::path folder = options.output.empty() ? fs::path(".") : fs::path(options.output);
        if (!is_folder(folder))
            throw std::runtime_error(
                fmt::format("{}: no such folder; with several scenarios -o names the folder for their files",
                            options.output));
        for (const auto& scenario : options.scenarios)
            paths.push_back(folder / fs::path(scenario).stem().concat(".h5"));
    }
    const std::vector<fs::path> inputs(options.scenarios.begin(), options.scenarios.end());
    std::set<fs::path> seen;
    for (const auto& path : paths) {
        check_place({path, "run", inputs, options.force});
        if (!seen.insert(path).second)
            throw std::runtime_error(
                fmt::format("{}: two scenarios would write this file; run them apart", path.string()));
    }
    return paths;
}

/// "the water column parts"
std::string second_grid_text(const SecondGridReason& reason, scenarios::UnitSystem units) {
    if (reason.parts)
        return "the water column parts";
    return fmt::format("the {} lies within {} of its limit", reason.limit.name(),
                       scenarios::format_quantity(reason.spread, scenarios::Dimension::pressure, units));
}

/// "3.6 GB"
std::string size_text(double bytes) {
    return bytes < 1e9 ? fmt::format("{:.0f} MB", bytes / 1e6) : fmt::format("{:.3g} GB", bytes / 1e9);
}

/// Where the samples of the run go: into memory if they are few, else into the folder of the results file. Throws
/// std::runtime_error, before anything is computed, where the disk has no room for them.
sim::StoreMaker store_for(const scenarios::Scenario& scenario, const std::filesystem::path& path) {
    return [&scenario, path](std::size_t signals) -> std::shared_ptr<sim::SampleStore> {
        constexpr double few = 64e6, much = 1e9; // bytes
        const double kept = scenario.run.duration / scenario.run.sample_interval;
        const double of_all = 8.0 * static_cast<double>(signals);
        const double samples = of_all * kept * static_cast<double>(stride_of(scenario));
        if (samples < few)
            return nullptr;
        const auto folder = path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
        const double file = of_all * kept, needed = samples + file;
        const auto room = static_cast<double>(std::filesystem::space(folder).available);
        if (needed > room)
            throw std::runtime_error(fmt::format("{} s in samples of {} s take up to {} on the disk of {} "
                                                 "and a file of up to {}; there are {}: "
                                                 "shorten run.duration or lengthen run.sample_interval",
                                                 scenario.run.duration, scenario.run.sample_interval,
                                                 size_text(samples), folder.string(), size_text(file),
                                                 size_text(room)));
        if (needed > much)
            fmt::print(
                stderr,
                "{}: a long run: up to {} of disk while it runs, a file of up to {}; a terminal shows how "
                "long it takes\n",
                path.string(), size_text(samples), size_text(file));
        return std::make_shared<sim::Spool>(folder, signals);
    };
}

/// What the print-out tells of each event's end, for a page; of a station without it, nothing.
void add_event_ends(const scenarios::Scenario& scenario, Outcome& outcome) {
    const std::string name = "as_it_ends", meaning = "what is told of the station besides, as the event ends";
    const auto told_of = [&](const scenarios::Scenario& in_units) {
        return event_ends(in_units, outcome.verdict);
    };
    auto told = told_of(scenario);
    if (std::ranges::all_of(told, &std::string::empty))
        return;
    auto& table = outcome.record.verdict;
    table.push_back({name, "", meaning, std::move(told)});
    add_in_both_systems(table, name, meaning, scenarios::in_both_systems(scenario, told_of));
}

/// Runs one scenario, prints its verdict, writes its file; returns an exit code. Throws for what cannot be started. A file that
/// cannot be written is told after the verdict.
int run_one(const scenarios::Scenario& scenario, const std::filesystem::path& path) {
    const auto start = std::chrono::steady_clock::now();
    const auto store = store_for(scenario, path);
    Outcome outcome;
    {
        RunProgress progress(scenario.run.duration);
        outcome = simulate(scenario, std::ref(progress), Signals::all, store);
    }
    {
        std::optional<RunProgress> progress;
        outcome = on_enough_grids(
            scenario, std::move(outcome),
            [&](const SecondGridReason& reason) -> Progress {
                return std::ref(progress.emplace(scenario.run.duration,
                                                 fmt::format(", again with twice as many cells: {}",
                                                             second_grid_text(reason, scenario.units))));
            },
            store);
    }
    const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - start;
    add_setup(outcome.record, scenario, outcome.surges);
    add_event_ends(scenario, outcome);
    // Before the file: a full disk must not take the verdict, too.
    print_text("{}  {}\n", verdict_text(scenario, outcome), cells_text(outcome));
    try {
        sim::write_results(path, outcome.record, outcome.stride);
    } catch (const std::exception& error) {
        print_text("\n");
        std::fflush(stdout);
        print_text(stderr, "{}\n", error.what());
        return exit_bad_input;
    }
    print_text("  {}: {} steps, {} rejected, {:.2f} s of computing\n\n", path.string(),
               outcome.record.counts.steps, outcome.record.counts.rejected, wall.count());
    if (!outcome.record.failure.empty())
        return exit_incomplete;
    return outcome.passed ? exit_passed : exit_failed;
}

int run_family(RunOptions options) {
    // --uncertain ahead of the scenario has taken it for its number.
    if (options.family.valves.ends_with(".toml"))
        options.scenarios.push_back(std::exchange(options.family.valves, usual_valves));
    if (options.scenarios.size() != 1)
        throw std::runtime_error("--uncertain: one scenario is wanted");
    if (options.force)
        throw std::runtime_error(
            "--force: --uncertain replaces no file; move it away or name another output");
    const auto question = family_question(options.family, options.scenarios.front(), options.set);
    const auto output =
        is_folder(options.output)
            ? (std::filesystem::path(options.output) / question.scenario.stem().concat("-uncertain.h5"))
                  .string()
            : options.output;
    return run_uncertain(question, output, options.threads);
}

int run(const RunOptions& options) {
    if (options.family.given())
        return run_family(options);
    refuse_seed_alone(options.family);
    if (options.threads > 0)
        throw std::runtime_error("--threads: belongs to --uncertain");
    if (options.scenarios.empty())
        throw std::runtime_error("run: a scenario file is wanted; needleturn run --help says more");
    const auto paths = result_paths(options);
    // All of them are read before the first is run: a typing error in the last must not cost the time of the others.
    std::vector<scenarios::Scenario> all;
    for (const auto& path : options.scenarios)
        all.push_back(scenarios::read_scenario(path, options.set, hardware_folders()));

    std::set<int> codes;
    bool judged = false;
    for (std::size_t i = 0; i < all.size(); ++i) {
        if (interrupted()) {
            print_text("{}: not run\n", options.scenarios[i]);
            codes.insert(exit_incomplete);
            continue;
        }
        try {
            codes.insert(run_one(all[i], paths[i]));
            judged = true;
        } catch (const std::exception& error) {
            std::fflush(stdout);
            print_text(stderr, "{}: {}\n", options.scenarios[i], error.what());
            codes.insert(exit_bad_input);
        }
    }
    if (judged)
        print_text("{}", caution_text());
    return *codes.rbegin();
}

} // namespace

void add_run(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<RunOptions>();
    auto command =
        program.add_subcommand("run", "integrate scenarios, write one HDF5 file each, print the verdicts");
    command.add_option("scenario", options->scenarios, "scenario files (.toml)");
    add_force(command, options->force);
    command.add_option(
        "-o,--output", options->output,
        "results file; with several scenarios the folder for them (default: <scenario>.h5 here)");
    add_set(command, options->set);
    add_family(
        command, options->family, usual_valves,
        "run so many valves (default: 100, at least 10) drawn from the ranges of the hardware: a Latin "
        "hypercube, logarithmic where a range begins above 0; -o: the file of cases (default: "
        "<scenario>-uncertain.h5 here)");
    command
        .add_option("-j,--threads", options->threads,
                    "of --uncertain: valves at a time (default: one per processor)")
        .within(1, 4096);
    command.callback([options, &action] { action = [options] { return run(*options); }; });
}

} // namespace needleturn
