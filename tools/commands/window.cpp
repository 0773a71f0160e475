#include "tools/commands/window.h"

#include "scenarios/limits.h"
#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/family_option.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/print_text.h"
#include "tools/commands/results_place.h"
#include "tools/commands/search_progress.h"
#include "tools/commands/set_option.h"
#include "tools/commands/verdict_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/commands/window_uncertain.h"
#include "tools/results/window_file.h"
#include "tools/studies/crew.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/turn_window.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

struct WindowOptions {
    std::string scenario, output;
    bool force = false;
    std::vector<scenarios::Override> set;
    std::vector<std::string> keys, over;
    std::string turns = "1/8 turn..6 turns";
    FamilyOption family;
    unsigned threads = 0;
};

/// "a..b"
std::pair<std::string, std::string> ends_of(const std::string& option, const std::string& text) {
    const auto dots = text.find("..");
    if (dots == std::string::npos)
        throw std::runtime_error(fmt::format("{} {}: write a range, low..high", option, text));
    return {text.substr(0, dots), text.substr(dots + 2)};
}

/// An end of the range of turns to look in.
double turns_of(const WindowOptions& options, const std::string& text) {
    try {
        return scenarios::parse_quantity(text, scenarios::Dimension::turns);
    } catch (const scenarios::UnitError& error) {
        throw std::runtime_error(fmt::format("--turns {}: {}", options.turns, error.what()));
    }
}

/// Eighths of a turn in full, others to three figures.
std::string turns_text(double turns) {
    return std::fmod(turns * 8, 1) == 0 ? fmt::format("{}", turns) : fmt::format("{:.3g}", turns);
}

std::string with_condition(const std::string& condition) {
    return condition.empty() ? "" : " with " + condition;
}

/// "4.49 bar of at most 6.60 bar with main.air_in_cover=40 mL"
std::string margin_text(const Margin& margin, scenarios::UnitSystem units) {
    const auto& limit = margin.limit.entry();
    if (std::isnan(margin.value))
        return "no event has anything that it limits";
    const auto shown = shown_apart(margin.value, margin.bound, limit.dimension, units);
    return fmt::format("{} of {} {}{}", std::isfinite(margin.value) ? shown.value : "not reached",
                       limit.at_least ? "at least" : "at most", shown.bound,
                       with_condition(margin.condition));
}

/// "hunts 1.85 bar, limit 0.20 bar (demand 9.00 L/s -> 2.00 L/s)"; where nothing broke the range ended.
std::string breach_text(const std::optional<Breach>& breach, scenarios::UnitSystem units) {
    if (!breach)
        return "not tried";
    const auto what = breach->failure.empty()
                          ? fmt::format("{} ({})", finding_text(breach->finding, units), breach->event)
                          : breach->failure;
    return what + with_condition(breach->condition);
}

/// "main.opening_control 0.25 turns, main.closing_control 2 turns: 24 % of its nearest limit left, and 1 of 4 settings a step away
/// keep every limit"
std::string candidate_text(const WindowQuestion& question, const Candidate& candidate) {
    std::string where;
    for (std::size_t i = 0; i < candidate.turns.size(); ++i)
        where += fmt::format("{}{} {} turns", i > 0 ? ", " : "", question.needles[i],
                             turns_text(candidate.turns[i]));
    return fmt::format(
        "{}: {:.0f} % of its nearest limit left; {} of {} settings a step away keep every limit", where,
        100 * candidate.left, candidate.kept, candidate.beside);
}

/// Why the recommended setting is that one.
std::string choice_text(const WindowQuestion& question, const Choice& choice) {
    std::string text =
        fmt::format("\nWhy this one, of the {} of {} settings of a coarse grid that keep every limit:\n"
                    "  {}\n",
                    choice.good, choice.grid, candidate_text(question, choice.recommended));
    if (choice.moved_from)
        text += fmt::format("  in place of one of the grid that lies nearer to an edge of its window: {}\n",
                            candidate_text(question, *choice.moved_from));
    if (choice.more_left && (!choice.moved_from || choice.moved_from->turns != choice.more_left->turns))
        text += fmt::format("  leaves most, but has no more room: {}\n",
                            candidate_text(question, *choice.more_left));
    if (choice.more_room)
        text += fmt::format("  has more room, but leaves less than three quarters of the most: {}\n",
                            candidate_text(question, *choice.more_room));
    else
        text += "  none has more room about it\n";
    return text;
}

/// The stage whose needles are looked for: the first that has some, the station's own before a first step's.
std::size_t first_with_needles(const scenarios::Scenario& scenario) {
    const auto with_needles = [](const scenarios::Stage& stage) { return stage.pilot_operated() != nullptr; };
    const auto stage = std::ranges::find_if(scenario.stages, with_needles);
    return stage == scenario.stages.end() ? 0 : static_cast<std::size_t>(stage - scenario.stages.begin());
}

/// Of other main valves than the one whose needles are looked for: theirs stand as the scenario has them. Lines, or none.
std::string other_needles_text(const scenarios::Scenario& scenario, const WindowQuestion& question) {
    std::string text;
    for (const auto& stage : scenario.stages) {
        const bool looked_for = std::ranges::any_of(
            question.needles, [&](const auto& needle) { return needle.starts_with(stage.name + "."); });
        if (stage.pilot_operated() != nullptr && !looked_for)
            text +=
                fmt::format("  {} keeps {} and {} turns of opening and closing control: --key looks for "
                            "its needles\n",
                            stage.name, turns_text(stage.opening_control), turns_text(stage.closing_control));
    }
    return text;
}

/// What was found, several lines.
std::string window_text(const scenarios::Scenario& scenario, const WindowQuestion& question,
                        const TurnWindow& window) {
    const auto units = scenario.units;
    std::string text =
        window.found ? "Recommended:\n"
                     : fmt::format("No setting from {:.3g} to {:.3g} turns keeps every limit. The nearest:\n",
                                   question.fewest, question.most);
    for (std::size_t i = 0; i < window.recommended.size(); ++i)
        text += fmt::format("  {} {} turns\n", question.needles[i], turns_text(window.recommended[i]));
    text += other_needles_text(scenario, question);
    text += "\nNearest that it comes to each limit:\n";
    std::size_t widest = 24;
    for (const auto& margin : window.margins)
        widest = std::max(widest, margin.limit.name().size());
    for (const auto& margin : window.margins)
        text += fmt::format("  {:<{}} {:>4.0f} % left: {}\n", margin.limit.name(), widest,
                            std::round(100 * margin.fraction) + 0.0, margin_text(margin, units)); // no -0
    if (window.choice)
        text += choice_text(question, *window.choice);
    if (window.found) {
        text += "\nWindow of each, the others as recommended:\n";
        for (const auto& needle : window.needles) {
            text += fmt::format("  {} {} to {} turns\n", needle.needle, turns_text(needle.low),
                                turns_text(needle.high));
            text += fmt::format("    fewer: {}\n", breach_text(needle.below, units));
            text += fmt::format("    more:  {}\n", breach_text(needle.above, units));
            if (needle.high - needle.low < hard_to_set)
                text += "    narrow: less than a quarter turn, hard to set by hand and to keep\n";
        }
    } else {
        text += fmt::format("  breaks first: {}\n", breach_text(window.breach, units));
    }
    return text
           + fmt::format("\n{} runs spent; a grid of {:.0f} % steps would take {}.\n", window.runs,
                         100 * (window_resolution - 1), window.grid_runs);
}

/// The same question over the valves that the ranges of the hardware allow.
FamilyWindowQuestion over_family(const WindowOptions& options, const WindowQuestion& question) {
    refuse_beside_family({{"--over", !options.over.empty()}, {"--output", !options.output.empty()}});
    constexpr std::uint64_t of_proof = 1;
    return {.family = family_question(options.family, options.scenario, options.set, of_proof),
            .needles = question.needles,
            .fewest = question.fewest,
            .most = question.most,
            .threads = question.threads};
}

int run_window(const WindowOptions& options) {
    refuse_seed_alone(options.family);
    if (!options.output.empty())
        check_place({options.output, "window", {options.scenario}, options.force});
    WindowQuestion question;
    question.scenario = options.scenario;
    question.set = options.set;
    const auto scenario = scenarios::read_scenario(question.scenario, question.set, hardware_folders());
    question.needles = options.keys;
    if (question.needles.empty())
        for (const auto* needle : {"opening_control", "closing_control"})
            question.needles.push_back(scenario.stages[first_with_needles(scenario)].name + "." + needle);
    const auto [fewest, most] = ends_of("--turns", options.turns);
    question.fewest = turns_of(options, fewest);
    question.most = turns_of(options, most);
    if (!(question.fewest > 0 && question.most > question.fewest))
        throw std::runtime_error(fmt::format("--turns {}: must rise from above 0", options.turns));
    for (const auto& text : options.over) {
        const auto equals = text.find('=');
        if (equals == std::string::npos)
            throw std::runtime_error(fmt::format("--over {}: write key=low..high", text));
        auto [low, high] = ends_of("--over", text.substr(equals + 1));
        question.over.push_back({text.substr(0, equals), std::move(low), std::move(high)});
    }
    constexpr std::size_t most_ranges = 4, most_needles = 3;
    if (question.over.size() > most_ranges || question.needles.size() > most_needles)
        throw std::runtime_error(
            fmt::format("window: at most {} ranges and {} keys", most_ranges, most_needles));
    question.threads = options.threads > 0 ? options.threads : all_processors();

    if (options.family.given())
        return run_window_uncertain(over_family(options, question));

    print_text("{}", warnings_text(scenario));
    SearchProgress progress("window:", "runs done");
    question.one_more = [&progress] { progress.one_more(); };
    const auto window = find_turn_window(question);
    progress.clear();
    print_text("{}\n\n{}\n", scenario.title, window_text(scenario, question, window));
    if (!options.output.empty()) {
        write_window(options.output, scenario, question, window, window_text(scenario, question, window));
        print_text("  {}\n\n", options.output);
    }
    print_text("{}", caution_text());
    return window.found ? exit_passed : exit_failed;
}

} // namespace

void add_window(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<WindowOptions>();
    auto command =
        program.add_subcommand("window", "find the needle turns that keep every limit of a scenario");
    command.add_option("scenario", options->scenario, "scenario file (.toml)").required();
    add_force(command, options->force);
    command.add_option("-o,--output", options->output, "HDF5 file of every setting that was run (optional)");
    command.add_option("--key", options->keys, "key in turns to be found (default: both speed controls)")
        .repeated();
    command.add_option("--turns", options->turns, "range of turns to look in").capture_default_str();
    command
        .add_option(
            "--over", options->over,
            "range that the window must hold over: \"main.air_in_cover=0 mL..20 mL\"; may be repeated")
        .repeated();
    add_family(
        command, options->family, "20",
        "count at each setting of a coarse grid how many of so many valves (default: 20, at least 10), drawn "
        "from the ranges of the hardware, keep every limit");
    add_set(command, options->set);
    command.add_option("-j,--threads", options->threads, "runs at a time (default: one per processor)")
        .within(1, 4096);
    command.callback([options, &action] { action = [options] { return run_window(*options); }; });
}

} // namespace needleturn
