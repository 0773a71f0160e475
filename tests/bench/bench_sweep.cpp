/// Sweeps: lanes against scalar code and against CVODE, threads, memory, writing, distance from the hardware: markdown.
/// Without arguments all sections; or name some of: lanes cases cvode threads memory peak.
#include "scenarios/read_scenario.h"
#include "sim/integrate.h"
#include "sim/journal.h"
#include "sim/lanes.h"
#include "sim/processor.h"
#include "tests/bench/counted.h"
#include "tests/bench/cvode.h"
#include "tests/bench/own.h"
#include "tests/bench/station_problem.h"
#include "tests/own_folder.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/sweep_case.h"

#include <fmt/core.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <random>
#include <string>
#include <thread>
#include <vector>

namespace {

using namespace needleturn;
using namespace needleturn::bench;
using Station = models::Station;

constexpr double duration = 80; // s
const std::vector<double> steady{20, 12, 8}, falling{10, 3, 1, 0.3};

/// One case of the reference stage.
struct Setting {
    std::vector<double> flows; ///< L/s, 20 s each
    double turns;              ///< of the opening control
    double air;                ///< m3 in the cover
};

struct Case {
    std::vector<Schedule> drives;
    Eigen::VectorXd y;
};

std::vector<Setting> evenly(const std::vector<double>& flows, double fewest, double most, std::size_t cases) {
    std::vector<Setting> settings;
    for (std::size_t i = 0; i < cases; ++i)
        settings.push_back(
            {flows, fewest + (most - fewest) * static_cast<double>(i) / static_cast<double>(cases), 0});
    return settings;
}

/// The sweep of the second goal: air 0 to 100 mL, opening control 0.5 to 6 turns, both demands.
std::vector<Setting> mixed(std::size_t cases) {
    std::mt19937 random(1);
    std::uniform_real_distribution turns(0.5, 6.0), air(0.0, 100e-6);
    std::vector<Setting> settings;
    for (std::size_t i = 0; i < cases; ++i) {
        const double t = turns(random);
        settings.push_back({i % 2 == 0 ? steady : falling, t, air(random)});
    }
    return settings;
}

Case case_of(const Setting& setting) {
    StationProblem problem(setting.flows, 1000, duration, setting.turns, setting.air);
    return {
        problem.system().schedules(),
        Eigen::Map<const Eigen::VectorXd>(problem.start.data(), static_cast<Eigen::Index>(problem.size()))};
}

std::vector<Case> cases_of(const std::vector<Setting>& settings) {
    std::vector<Case> cases;
    for (const auto& setting : settings)
        cases.push_back(case_of(setting));
    return cases;
}

struct Cost {
    double seconds = 0; ///< processor time
    std::size_t attempts = 0, steps = 0, rounds = 0;
};

Cost scalar(const Station& station, const std::vector<Case>& cases, double tolerance) {
    Cost cost;
    const double start = processor_time();
    for (const auto& of : cases) {
        sim::System<Station> system(station, of.drives);
        Eigen::VectorXd y = of.y;
        sim::Counts counts;
        sim::integrate(system, y, 0, duration, {tolerance}, counts, [](const auto&) {});
        cost.attempts += counts.steps + counts.rejected;
        cost.steps += counts.steps;
    }
    cost.seconds = processor_time() - start;
    return cost;
}

/// Runs the cases whose numbers `next` gives.
template <std::size_t W, class Next>
Cost lanes(const Station& station, const std::vector<Case>& cases, double tolerance, Next next) {
    Cost cost;
    const double begin = processor_time();
    sim::Lanes<Station, W, sim::CallsFor<W>> lanes(station, {tolerance});
    std::array<std::size_t, W> in{};
    const auto ramps = [&](std::size_t lane, double t) {
        std::vector<Ramp> pieces;
        for (const auto& schedule : cases[in[lane]].drives)
            pieces.push_back(schedule.piece(t));
        return pieces;
    };
    const auto fill = [&](std::size_t lane) {
        in[lane] = next();
        if (in[lane] >= cases.size())
            return;
        const auto& of = cases[in[lane]];
        sim::System<Station> system(station, of.drives);
        auto ends = system.breakpoints(0, duration);
        ends.push_back(duration);
        lanes.start(lane, of.y, 0, std::move(ends), ramps(lane, 0));
    };
    for (std::size_t lane = 0; lane < W; ++lane)
        fill(lane);
    for (; !lanes.all_free(); ++cost.rounds)
        lanes.advance([](const auto&) {}, ramps,
                      [&](std::size_t lane) {
                          const auto& counts = lanes.counts(lane);
                          cost.attempts += counts.steps + counts.rejected;
                          cost.steps += counts.steps;
                          fill(lane);
                      },
                      [&](std::size_t lane) {
                          fmt::print("case {} stuck\n", in[lane]);
                          fill(lane);
                      });
    cost.seconds = processor_time() - begin;
    return cost;
}

template <std::size_t W>
Cost lanes(const Station& station, const std::vector<Case>& cases, double tolerance) {
    return lanes<W>(station, cases, tolerance, [next = std::size_t{0}]() mutable { return next++; });
}

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

void lanes_section(const Station& station) {
    fmt::print(
        "## Lanes against scalar code, one core, integration alone\n\n"
        "Reference stage, {} s, tolerance 1e-4. Processor time of one thread, the best of 3.\n\n"
        "| sweep | code | ms per case | attempts | us per attempt or round | lane use | times scalar | "
        "simulated s per s |\n|---|---|---|---|---|---|---|---|\n",
        duration);
    const struct {
        const char* name;
        std::vector<Setting> settings;
    } sweeps[] = {{"steady", evenly(steady, 0.5, 6, 512)},
                  {"hunting", evenly(falling, 2, 6, 128)},
                  {"mixed, with air", mixed(128)}};
    for (const auto& [name, settings] : sweeps) {
        const auto cases = cases_of(settings);
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
        return "-";
    std::sort(differences.begin(), differences.end());
    const auto at = [&](double share) {
        return differences[static_cast<std::size_t>(share * static_cast<double>(differences.size() - 1))];
    };
    return fmt::format("{:.0e} | {:.0e} | {:.0e} | {:.0e}", at(0.5), at(0.9), at(0.99), at(1));
}

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

double error_of(Method& method, const Setting& setting, double tolerance, double until) {
    StationProblem problem(setting.flows, 1000, until, setting.turns, setting.air);
    Own exact;
    Trace reference{0.01, {}}, trace{0.01, {}};
    exact.run(problem, 1e-9, &reference);
    method.run(problem, tolerance, &trace);
    double worst = 0;
    for (std::size_t i = 0; i < std::min(reference.pressure.size(), trace.pressure.size()); ++i)
        worst = std::max(worst, std::abs(reference.pressure[i] - trace.pressure[i]) / 1e5);
    return worst;
}

void cvode_section(const Station& station) {
    constexpr std::size_t all = 1000, every = 50;
    constexpr double ours_tolerance = 1e-4, cvode_tolerance = 1e-4;
    const auto settings = mixed(all);
    const auto cases = cases_of(settings);
    const Cost own = lanes<8>(station, cases, ours_tolerance);
    Cvode cvode("CVODE, order <= 2", {});
    Own rodas;
    double seconds = 0, worst_own = 0, worst_cvode = 0;
    std::size_t sample = 0, given_up = 0;
    for (std::size_t i = 0; i < all; i += every - 1) { // an odd stride: both demands
        StationProblem problem(settings[i].flows, 1000, duration, settings[i].turns, settings[i].air);
        const double start = processor_time();
        constexpr double longest = 60;
        problem.deadline = start + longest;
        given_up += cvode.run(problem, cvode_tolerance, nullptr).failure.empty() ? 0 : 1;
        seconds += processor_time() - start;
        // Until the falling demand begins to hunt, after which two traces tell nothing of errors.
        const double until = settings[i].flows == steady ? duration : 20;
        worst_own = std::max(worst_own, error_of(rodas, settings[i], ours_tolerance, until));
        worst_cvode = std::max(worst_cvode, error_of(cvode, settings[i], cvode_tolerance, until));
        ++sample;
    }
    const double ours_case = own.seconds / all, cvode_case = seconds / static_cast<double>(sample);
    fmt::print(
        "## 1,000 mixed cases against one CVODE BDF of order <= 2 per case, one thread each\n\n"
        "Air 0 to 100 mL, opening control 0.5 to 6 turns, demand 20 -> 12 -> 8 or 10 -> 3 -> 1 -> 0.3 L/s, "
        "{} s. "
        "Ours: all 1,000 in lanes. CVODE: {} of them{}. Integration alone. Error: largest difference of the "
        "outlet pressure from ours at 1e-9, until 20 s where the demand falls.\n\n"
        "| method | tolerance | largest error, bar | ms per case | times |\n|---|---|---|---|---|\n"
        "| CVODE, order <= 2 | {:.0e} | {:.1e} | {:.1f} | 1 |\n"
        "| lanes | {:.0e} | {:.1e} | {:.2f} | {:.0f} |\n\n",
        duration, sample, given_up > 0 ? fmt::format(", {} given up after 60 s", given_up) : "",
        cvode_tolerance, worst_cvode, 1e3 * cvode_case, ours_tolerance, worst_own, 1e3 * ours_case,
        cvode_case / ours_case);
    std::fflush(stdout);
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
                    [&] { processor += lanes<8>(station, cases, 1e-4, [&] { return next++; }).seconds; });
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

void memory_section(const std::filesystem::path& folder) {
    const double few = memory_of(folder, 1000), many = memory_of(folder, 100000);
    fmt::print("## Memory of `needleturn sweep -j 2`, runs of 10 ms\n\n| cases | MiB |\n|---|---|\n| 1,000 | "
               "{:.1f} |\n"
               "| 100,000 | {:.1f} |\n\n{:+.1f} %\n\n",
               few, many, 100 * (many / few - 1));
    std::fflush(stdout);
}

/// Additions and multiplications a second that one core does in registers of W lanes, without contracting them.
template <std::size_t W> double peak() {
    constexpr int rounds = 20'000'000, chains = 12;
    std::array<sim::Pack<W>, chains> sums;
    double seconds = 0;
    for (int repeat = 0; repeat < 3; ++repeat) {
        const double start = processor_time();
        sim::CallsFor<W>::run([&] {
            std::array<sim::Pack<W>, chains> own = sums;
            for (int i = 0; i < rounds; ++i)
                for (auto& sum : own)
                    sum = sum * 0.999 + 0.5;
            sums = own;
        });
        const double took = processor_time() - start;
        seconds = repeat == 0 ? took : std::min(seconds, took);
    }
    double total = 0; // so that the sums are needed
    for (const auto& sum : sums)
        total += sum[0];
    return total > 0 ? 2.0 * rounds * chains * W / seconds : 0;
}

void peak_section(const Station& station) {
    const auto cases = cases_of(evenly(steady, 0.5, 6, 512));
    sim::Assembly<Station, Counted> assembly(station);
    sim::Rodas5PStep<sim::Assembly<Station, Counted>> step(assembly);
    for (std::size_t j = 0; j < cases[0].drives.size(); ++j) {
        const auto ramp = cases[0].drives[j].piece(0);
        assembly.ramps()[j] = {ramp.begin, ramp.value, ramp.slope};
    }
    for (std::size_t i = 0; i < assembly.size(); ++i)
        step.y[i] = cases[0].y[static_cast<Eigen::Index>(i)];
    fmt::print(
        "## Distance from the hardware\n\nA power counts as 60 operations, an exponential or logarithm as 30 "
        "(sim/pack.h).\n\n| | add | mul | div | root | power | exp, log | choices | operations |\n"
        "|---|---|---|---|---|---|---|---|---|\n");
    const auto flops = [](const Operations& o) {
        return static_cast<double>(o.add + o.mul + o.div + o.sqrt + 60 * o.pow + 30 * o.exp);
    };
    const auto print = [&](const char* name) {
        const auto& o = Counted::done;
        fmt::print("| {} | {} | {} | {} | {} | {} | {} | {} | {:.0f} |\n", name, o.add, o.mul, o.div, o.sqrt,
                   o.pow, o.exp, o.choice, flops(o));
    };
    Counted::done = {};
    assembly.rates(0.0, step.y.data(), step.rate.data());
    print("right-hand side");
    Counted::done = {};
    step.linearise(assembly, 0.0);
    print("with Jacobian");
    step.attempt(assembly, 0.0, 1e-4);
    print("attempted step, all of it");
    const double per_step = flops(Counted::done);
    const auto report = [&](std::size_t width, const Cost& cost, double peak_rate) {
        const double rate = per_step * static_cast<double>(cost.attempts) / cost.seconds;
        fmt::print("\n{} lanes: {:.2f} Gflop/s of {:.1f} that additions and multiplications alone reach "
                   "here: {:.0f} %\n",
                   width, 1e-9 * rate, 1e-9 * peak_rate, 100 * rate / peak_rate);
    };
    if (sim::lanes_here() >= 8)
        report(8, lanes<8>(station, cases, 1e-4), peak<8>());
    if (sim::lanes_here() >= 4)
        report(4, lanes<4>(station, cases, 1e-4), peak<4>());
    report(2, lanes<2>(station, cases, 1e-4), peak<2>());
    fmt::print("\n");
}

} // namespace

int main(int count, char** arguments) {
    const std::vector<std::string> sections(arguments + 1, arguments + count);
    const auto asked = [&](const char* name) {
        return sections.empty() || std::ranges::find(sections, name) != sections.end();
    };
    const tests::OwnFolder folder;
    const Station station(reference::parts());
    fmt::print("# Sweeps\n\n{} lanes on this processor.\n\n", sim::lanes_here());
    if (asked("lanes"))
        lanes_section(station);
    if (asked("peak"))
        peak_section(station);
    if (asked("cases"))
        cases_section(folder.path(), 500);
    if (asked("threads"))
        threads_section(station);
    if (asked("cvode"))
        cvode_section(station);
    if (asked("memory"))
        memory_section(folder.path());
}
