#include "sim/cases_file.h"
#include "sim/journal.h"
#include "tests/bench/problem.h"
#include "tests/bench/sweep_sections.h"
#include "tools/results/sweep_layout.h"
#include "tools/studies/sweep_case.h"

#include <fmt/core.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::bench {

namespace {

/// A study of the demo scenario by night.
std::filesystem::path night_study(const std::filesystem::path& folder, std::size_t cases,
                                  const std::string& end, const std::string& set = "4.2 bar") {
    const auto path = folder / "night.toml";
    std::ofstream(path)
        << "scenario = \"" << NEEDLETURN_SOURCE_DIR << "/scenarios/nursery-night.toml\"\n"
        << "plan = \"sobol\"\ncases = " << cases << "\nseed = 1\n"
        << "[[vary]]\nkey = \"main.opening_control\"\nfrom = \"0.25 turns\"\nto = \"6 turns\"\n"
        << "[[vary]]\nkey = \"main.air_in_cover\"\nfrom = \"0 mL\"\nto = \"60 mL\"\n"
        << "[[vary]]\nkey = \"main.set_pressure\"\nfrom = \"" << set << "\"\nto = \"4.6 bar\"\n"
        << "[[vary]]\nkey = \"run.duration\"\nlist = [\"" << end << "\"]\n";
    return path;
}

/// Whole cases of `sweep`, as `needleturn sweep` runs them; keeps their rows in a journal, and the time that takes.
struct WholeCases {
    std::vector<sim::CaseRows> rows;
    double seconds = 0, writing = 0;
};

WholeCases whole_cases(const Sweep& sweep, const std::filesystem::path& folder) {
    WholeCases result;
    result.rows.resize(sweep.study.cases());
    const auto path = folder / "bench.journal";
    std::filesystem::remove(path);
    sim::Journal journal(path, sweep.identity, sweep.study.cases());
    Cases cases(sweep.study);
    std::size_t next = 0;
    const double start = processor_time();
    run_cases(sweep, cases,
              {[&]() -> std::optional<std::size_t> {
                   return next < result.rows.size() ? std::optional(next++) : std::nullopt;
               },
               [&](std::size_t number, const sim::CaseRows& rows) {
                   const double before = processor_time();
                   journal.append(number, bytes_of(rows));
                   result.writing += processor_time() - before;
                   result.rows[number] = rows;
                   return true;
               },
               [] { return true; }});
    double before = processor_time();
    const auto file = folder / "bench.h5";
    sim::write_cases(
        file, layout_of(sweep), [&](std::size_t number) { return rows_from(sweep, journal[number]); },
        [](sim::KeptSignals&) { return false; });
    result.writing += processor_time() - before;
    result.seconds = processor_time() - start;
    return result;
}

/// Median and largest of the differences.
std::string spread(std::vector<double> differences) {
    if (differences.empty())
        return "- | - | - | -";
    std::sort(differences.begin(), differences.end());
    const auto at = [&](double share) {
        return differences[static_cast<std::size_t>(share * static_cast<double>(differences.size() - 1))];
    };
    return fmt::format("{:.0e} | {:.0e} | {:.0e} | {:.0e}", at(0.5), at(0.9), at(0.99), at(1));
}

} // namespace

void cases_section(const std::filesystem::path& folder, std::size_t number_of_cases) {
    auto sweep = read_sweep(night_study(folder, number_of_cases, "25 s"));
    const auto in_lanes = whole_cases(sweep, folder);
    sweep.lanes = false;
    const auto alone = whole_cases(sweep, folder);
    fmt::print("## Whole cases: {} of nursery-night, 25 s, as `needleturn sweep` runs them\n\n"
               "Reading, steady start, integration, recording at 1 kHz, verdict, journal, file.\n\n"
               "| code | ms per case | of it writing | times scalar |\n|---|---|---|---|\n",
               number_of_cases);
    for (const auto& [name, of] : {std::pair{"scalar", &alone}, std::pair{"lanes", &in_lanes}})
        fmt::print("| {} | {:.1f} | {:.2f} % | {:.2f} |\n", name,
                   1e3 * of->seconds / static_cast<double>(number_of_cases), 100 * of->writing / of->seconds,
                   alone.seconds / of->seconds);
    // What a difference of rounding does to the scalar code itself: the set pressure 1e-10 higher.
    auto nudged_sweep = read_sweep(night_study(folder, number_of_cases, "25 s", "4.20000000042 bar"));
    nudged_sweep.lanes = false;
    const auto nudged = whole_cases(nudged_sweep, folder);
    fmt::print("\nRelative difference of each metric over all events: lanes against scalar, and, as a "
               "yardstick, scalar "
               "with a set pressure 1e-10 higher against scalar.\n\n"
               "| metric | lanes: median | 90 % | 99 % | largest | nudged: median | 90 % | 99 % | largest |\n"
               "|---|---|---|---|---|---|---|---|---|\n");
    for (const auto* metric : {"flow", "flowing_pressure", "highest", "lowest", "hunting_peak_to_peak",
                               "hunting_frequency", "settling_time"}) {
        const auto at = place_of(sweep.per_event, metric);
        const auto against_scalar = [&](const WholeCases& of) {
            std::vector<double> differences;
            for (std::size_t i = 0; i < number_of_cases; ++i)
                for (std::size_t event = 0; event < sweep.events; ++event) {
                    const double a = of.rows[i].events[event].numbers[at];
                    const double b = alone.rows[i].events[event].numbers[at];
                    if (std::isfinite(a) && std::isfinite(b) && b != 0)
                        differences.push_back(std::abs(a / b - 1));
                }
            return spread(differences);
        };
        fmt::print("| {} | {} | {} |\n", metric, against_scalar(in_lanes), against_scalar(nudged));
    }
    const auto kind = place_of(sweep.per_event, "hunting");
    const auto passed = place_of(sweep.per_case, "passed");
    for (const auto& [name, of] : {std::pair{"lanes", &in_lanes}, std::pair{"nudged", &nudged}}) {
        std::size_t kinds = 0, verdicts = 0;
        for (std::size_t i = 0; i < number_of_cases; ++i) {
            verdicts += of->rows[i].self.numbers[passed] == alone.rows[i].self.numbers[passed] ? 0 : 1;
            for (std::size_t event = 0; event < sweep.events; ++event)
                kinds +=
                    of->rows[i].events[event].words[kind] == alone.rows[i].events[event].words[kind] ? 0 : 1;
        }
        fmt::print("\n{}: {} of {} words for hunting and {} of {} verdicts differ from scalar.\n", name,
                   kinds, number_of_cases * sweep.events, verdicts, number_of_cases);
    }
    fmt::print("\n");
    std::fflush(stdout);
}

namespace {

/// The demo scenario by night with nothing happening for 10 ms.
std::filesystem::path short_study(const std::filesystem::path& folder, std::size_t cases) {
    std::ifstream in(std::string(NEEDLETURN_SOURCE_DIR) + "/scenarios/nursery-night.toml");
    std::string text{std::istreambuf_iterator<char>(in), {}};
    const auto steps = text.find("steps = [");
    text.erase(steps, text.find("\n]\n", steps) + 3 - steps);
    const std::string duration_key = "duration = ";
    text.replace(text.find(duration_key), text.find('\n', text.find(duration_key)) - text.find(duration_key),
                 "duration = \"10 ms\"");
    std::ofstream(folder / "short.toml") << text;
    const auto path = folder / "short-study.toml";
    std::ofstream(path)
        << "scenario = \"short.toml\"\nplan = \"sobol\"\ncases = " << cases
        << "\nseed = 1\n[[vary]]\nkey = \"main.opening_control\"\nfrom = \"0.25 turns\"\nto = "
           "\"6 turns\"\n";
    return path;
}

/// Largest memory of the program on a sweep, MiB.
double memory_of(const std::filesystem::path& folder, std::size_t cases) {
    const auto study = short_study(folder, cases).string();
    const auto output = (folder / "memory.h5").string();
    const pid_t child = fork();
    if (child == 0) {
        if (std::freopen("/dev/null", "w", stdout) == nullptr) // the table goes there
            _exit(126);
        execl(NEEDLETURN_PROGRAM, NEEDLETURN_PROGRAM, "sweep", study.c_str(), "-o", output.c_str(), "-j", "2",
              static_cast<char*>(nullptr));
        _exit(127);
    }
    int status = 0;
    rusage usage{};
    wait4(child, &status, 0, &usage);
    std::filesystem::remove(output);
    constexpr double kibibytes = 1024;
    return WIFEXITED(status) && WEXITSTATUS(status) == 0 ? static_cast<double>(usage.ru_maxrss) / kibibytes
                                                         : std::nan("");
}

} // namespace

void memory_section(const std::filesystem::path& folder) {
    const double few = memory_of(folder, 1000), many = memory_of(folder, 100000);
    fmt::print("## Memory of `needleturn sweep -j 2`, runs of 10 ms\n\n| cases | MiB |\n|---|---|\n| 1,000 | "
               "{:.1f} |\n"
               "| 100,000 | {:.1f} |\n\n{:+.1f} %\n\n",
               few, many, 100 * (many / few - 1));
    std::fflush(stdout);
}

} // namespace needleturn::bench
