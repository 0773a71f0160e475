#include "tools/commands/fit.h"

#include "scenarios/date.h"
#include "scenarios/read_scenario.h"
#include "scenarios/table_reader.h"
#include "scenarios/trace.h"
#include "sim/whole_file.h"
#include "tools/commands/cases_progress.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/family_option.h"
#include "tools/commands/fit_found.h"
#include "tools/commands/fit_start.h"
#include "tools/commands/fit_text.h"
#include "tools/commands/fit_told.h"
#include "tools/commands/interruption.h"
#include "tools/commands/print_text.h"
#include "tools/commands/results_place.h"
#include "tools/commands/search_progress.h"
#include "tools/commands/set_option.h"
#include "tools/results/fit_file.h"
#include "tools/studies/crew.h"
#include "tools/studies/fit.h"
#include "tools/studies/fit_family.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/traced_run.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <ctime>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

struct FitOptions {
    std::string scenario, trace, start, date, output;
    std::vector<std::string> unknowns, channels;
    std::vector<scenarios::Override> set;
    unsigned starts = 2;
    FamilyOption family{.valves = "60", .seed = ""};
    bool force = false;
};

/// When the valve was found so: as the trace says, else as asked; empty: nobody says it.
std::string date_found(const FitOptions& options, const scenarios::Trace& trace) {
    if (options.date.empty())
        return trace.date;
    const auto refuse = [&](const std::string& why) {
        scenarios::raise(fmt::format("--date {}: {}", options.date, why));
    };
    if (!trace.date.empty())
        refuse(fmt::format("the trace has dates; its first is {}", trace.date));
    if (options.date == "today")
        return fmt::format("{:%Y-%m-%d}", fmt::localtime(std::time(nullptr)));
    if (!scenarios::is_date(options.date))
        refuse("no date; write the year first, e.g. 2026-03-01, or today");
    return options.date;
}

std::filesystem::path results_beside(const FitOptions& options) {
    // Not found.h5: a run of found.toml is that.
    const std::filesystem::path path(options.output);
    return path.parent_path() / fmt::format("{}-fit.h5", path.stem().string());
}

std::string name_of(const std::string& path) { return std::filesystem::path(path).filename().string(); }

void check_places(const FitOptions& options) {
    Place place{options.output, "fit", {options.scenario, options.trace}, options.force};
    check_place(place);
    place.path = results_beside(options);
    place.beside = true;
    check_place(place);
}

/// What is asked of the valves that the fit allows before and after.
FitFamilyQuestion family_of(const FitOptions& options, const FitQuestion& question) {
    const auto family = family_question(options.family, options.scenario, options.set);
    return {.file = question.file,
            .scenario = options.scenario,
            .valves = family.valves,
            .seed = family.seed,
            .threads = question.threads};
}

/// None: interrupted.
std::optional<FitFamilies> run_families(FitFamilyQuestion question, const Fitted& fitted) {
    CasesProgress progress(0, 2 * question.valves, "valves");
    question.go_on = [] { return !interrupted(); };
    question.one_more = [&] { progress.one_more(); };
    auto families = fit_families(question, fitted);
    if (interrupted())
        return {};
    return families;
}

/// None: interrupted.
std::optional<Fitted> search_values(FitQuestion& question) {
    SearchProgress search("model run for", "sets of values");
    watch_for_interruption();
    question.progress = [&search] { search.one_more(); };
    question.go_on = [] { return !interrupted(); };
    try {
        return fit(question);
    } catch (const Stopped&) {
        return {};
    }
}

int tell_interrupted(const FitOptions& options) {
    print_text(stderr, "{}: interrupted; nothing is written\n", options.scenario);
    return exit_incomplete;
}

void write_found(const FitOptions& options, const std::string& date, const FitQuestion& question,
                 const Fitted& fitted, const FitFamilies& families, const std::string& summary) {
    const auto folders = hardware_folders_of(options.output);
    const auto [found, text] =
        found_scenario(question, fitted, date, name_of(options.scenario), name_of(options.trace), folders);
    const auto results = results_beside(options);
    write_fit(results, {question, fitted, found, families, family_of(options, question).seed,
                        name_of(options.scenario), name_of(options.trace), summary});
    sim::write_whole_file(options.output, std::as_bytes(std::span(text)));
    print_text("\n{}: the scenario with the values found; run takes it\n", options.output);
    if (date.empty())
        print_text("  as_found has no date: the trace has none; write it in, or say --date 2026-03-01\n");
    print_text(
        "  run --uncertain of it draws each value of the hardware by itself: it knows less than this fit, "
        "which knows what goes together\n");
    print_text("{}: trace, model and ranges; report makes a page of it\n", results.string());
}

/// What was found: the verdict that it leaves, and the files; an exit code.
int tell_found(const FitOptions& options, const std::string& date, const FitQuestion& question,
               const Fitted& fitted, const std::string& summary) {
    const auto family = family_of(options, question);
    const auto families = run_families(family, fitted);
    if (!families)
        return tell_interrupted(options);
    const auto verdict = families_text(family, *families, question.file.read(), fitted.explained());
    print_text("{}", verdict);
    if (!options.output.empty())
        write_found(options, date, question, fitted, *families, summary + verdict);
    return fitted.explained() ? exit_passed : exit_failed;
}

int run_fit(const FitOptions& options) {
    if (!options.output.empty())
        check_places(options);
    scenarios::ScenarioFile file(options.scenario, hardware_folders(), options.set);
    const auto scenario = file.read();
    FitQuestion question{.file = std::move(file),
                         .trace = scenarios::read_trace(options.trace, options.channels),
                         .start = 0,
                         .unknowns = unknowns_of(scenario, options.unknowns),
                         .starts = options.starts,
                         .seed = 1,
                         .threads = all_processors(),
                         .progress = {}};
    question.start = start_in_trace(options.start, question.trace);
    const auto date = date_found(options, question.trace);
    check_family(family_of(options, question), question.unknowns);
    const auto found = search_values(question);
    if (!found)
        return tell_interrupted(options);
    const auto& fitted = *found;
    print_text("{}, fitted to {}\n", scenario.title, options.trace);
    for (const auto& note : question.trace.notes)
        print_text("  {}\n", note);
    const auto text = fit_text(fitted, scenario.units);
    print_text("{}", text);
    int code = exit_failed;
    if (fitted.told())
        code = tell_found(options, date, question, fitted, text);
    else if (!options.output.empty())
        print_text("\n{}: not written, for nothing was found\n", options.output);
    print_text("\n{}", fit_caution_text());
    return code;
}

} // namespace

void add_fit(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<FitOptions>();
    auto command = program.add_subcommand(
        "fit", "find what the valve of a scenario really is from what its gauges have logged");
    command.add_option("scenario", options->scenario, "scenario file (.toml) of what was done").required();
    command.add_option("trace", options->trace, "what was logged meanwhile (.csv, at most 8 MB)").required();
    const auto collect = [](std::vector<std::string>& list) {
        return [&list](const std::vector<std::string>& texts) {
            list.insert(list.end(), texts.begin(), texts.end());
        };
    };
    command
        .add_values("--channel", collect(options->channels),
                    "which column is what: \"outlet=P2 [bar]\"; also inlet, cover, flow, time (default: by "
                    "the words in the "
                    "header); may be repeated")
        .repeated();
    command
        .add_values(
            "--unknown", collect(options->unknowns),
            "a key and its range: \"main.air_in_cover=0..100 mL\"; also gauge.offset, gauge.gain, gauge.lag, "
            "gauge.clock "
            "(default: the hardware's ranges, air in the cover, turns; the gauges' offset); may be repeated")
        .repeated();
    command.add_option(
        "--start", options->start,
        "time of the trace at which the scenario begins: \"12.5 s\" or a date (default: 0 s, or the first "
        "date)");
    command.add_option("--date", options->date,
                       "when the trace was logged, where it has no dates itself: 2026-03-01, or today");
    command.add_option("--starts", options->starts, "how many searches, each from another place (default: 2)")
        .within(1, 100);
    add_family(
        command, options->family, "60",
        "of how many valves, drawn from the ranges before and after, the verdict is told (default: 60)");
    add_set(command, options->set);
    add_force(command, options->force);
    command.add_option(
        "-o,--output", options->output,
        "write the scenario with the values found (found.toml), and beside it what report makes a "
        "page of (found-fit.h5)");
    command.callback([options, &action] { action = [options] { return run_fit(*options); }; });
}

} // namespace needleturn
