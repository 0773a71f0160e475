#include "tools/commands/rehearse.h"

#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "scenarios/written.h"
#include "sim/whole_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/outlets_text.h"
#include "tools/commands/print_text.h"
#include "tools/commands/progress_line.h"
#include "tools/commands/results_place.h"
#include "tools/commands/set_option.h"
#include "tools/commands/sheet.h"
#include "tools/commands/step_seen.h"
#include "tools/commands/step_text.h"
#include "tools/commands/verdict_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/hardware_folders.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <iterator>
#include <memory>
#include <sstream>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::UnitSystem;

constexpr std::size_t phone = 62;     // columns
constexpr std::size_t most_shown = 2; // steps of a slip

std::string pressure(double value, UnitSystem units) {
    return scenarios::format_quantity(value, Dimension::pressure, units);
}

/// Hunts so that a needle shows it.
bool shakes(const RehearsalStep& step) { return step.swing() > noticed; }

std::string predicates(const std::vector<Finding>& findings, UnitSystem units) {
    std::vector<std::string> texts;
    for (const auto& finding : findings)
        texts.push_back(finding_predicate(finding, units));
    return fmt::format("{}", fmt::join(texts, ", "));
}

std::string range(const RehearsalStep& step, UnitSystem units) {
    return fmt::format("{} to {}", gauge_text(step.lowest, units), pressure(step.highest, units));
}

ToldSlip told(const Rehearsal& slip, const Rehearsal& usual) {
    const auto units = usual.scenario.units;
    ToldSlip text{slip_text(slip.slip, slip.scenario), {}};
    if (!slip.failure.empty())
        text.looks.push_back("The run ended early: " + slip.failure);
    std::size_t shown_passing = 0, shown_judged = 0;
    bool worse = false;
    for (const auto& step : slip.steps) {
        auto& shown = step.judged ? shown_judged : shown_passing;
        // Of the steps on the way the first shows it; where the station is proved a second may break another limit.
        const auto* own = usual.same_step(step.id);
        // What the usual order breaks in the same step is not this slip's doing.
        const auto findings = own == nullptr ? step.findings : step.findings_beyond(*own);
        worse = worse || !findings.empty();
        if (findings.empty() || shown >= (step.judged ? most_shown : 1))
            continue;
        ++shown;
        text.looks.push_back(fmt::format(
            "{}{}: outlet {}{}{}; {}", step_title(step.id, slip.scenario), step.id.time > 1 ? ", again" : "",
            range(step, units), own == nullptr ? "" : fmt::format(" (else {})", range(*own, units)),
            shakes(step) ? ", " + step_hunting(step, units) : "", predicates(findings, units)));
    }
    if (!worse)
        text.looks.emplace_back(slip.has_findings() ? "Breaks no limit that the usual order keeps"
                                                    : "Breaks no limit of this scenario");
    const auto main = usual.steps.front().id.stage;
    for (const auto& [task, when] :
         {std::pair{Task::check_lock_up, "At rest"}, std::pair{Task::prove_full, "At full flow"}}) {
        const auto* step = slip.same_step({task, main});
        const auto* own = usual.same_step({task, main});
        if (step != nullptr && own != nullptr && !step->hunts()
            && std::abs(step->after.outlet - own->after.outlet) > another_reading)
            text.looks.push_back(fmt::format("{} the outlet reads {} instead of {}", when,
                                             gauge_text(step->after.outlet, units),
                                             pressure(own->after.outlet, units)));
    }
    return text;
}

/// The index of the first step of the usual order that `slip` does not share.
std::size_t departure(const Rehearsal& slip, const Rehearsal& usual) {
    std::size_t i = 0;
    while (i + 1 < usual.steps.size() && i < slip.steps.size() && slip.steps[i].id == usual.steps[i].id)
        ++i;
    return i;
}

struct RehearseOptions {
    std::string scenario, output;
    bool force = false;
    std::vector<scenarios::Override> set;
};

const char* file_name(Slip slip) {
    switch (slip) {
    case Slip::screw_spun:
        return "screw-spun.toml";
    case Slip::set_without_flow:
        return "set-without-flow.toml";
    case Slip::air_left:
        return "air-left.toml";
    case Slip::wrong_order:
        return "wrong-order.toml";
    case Slip::none:
        break;
    }
    return "usual-order.toml";
}

int rehearse_scenario(const RehearseOptions& options) {
    if (!options.output.empty())
        check_folder_of_results(options.output);
    if (is_folder(options.output))
        for (const auto slip :
             {Slip::none, Slip::screw_spun, Slip::set_without_flow, Slip::air_left, Slip::wrong_order})
            check_place({std::filesystem::path(options.output) / file_name(slip),
                         "rehearse",
                         {options.scenario},
                         options.force});
    const auto scenario = scenarios::read_scenario(options.scenario, options.set, hardware_folders());
    const auto lesson = rehearse_with_progress(options.scenario, scenario);
    const auto shares = shares_line(scenario);
    print_text("{}{}{}", warnings_text(scenario), shares.empty() ? "" : hanging("", shares, phone) + "\n",
               rehearsal_text(lesson));
    if (const auto left_out = not_rehearsed_text(scenario); !left_out.empty())
        print_text("{}", hanging("", left_out, phone));
    print_text("\n{}", hanging("", caution_text(), phone));
    if (!options.output.empty()) {
        std::filesystem::create_directories(options.output);
        const auto write = [&](const Rehearsal& rehearsal) {
            const auto path = std::filesystem::path(options.output) / file_name(rehearsal.slip);
            const auto text = std::string(rehearse_mark)
                              + scenarios::written(rehearsal.scenario, hardware_folders_of(path));
            sim::write_whole_file(path, std::as_bytes(std::span(text)));
            print_text("{}\n", path.string());
        };
        print_text("\nAs scenarios, for run and report:\n");
        write(lesson.usual);
        std::ranges::for_each(lesson.slips, write);
    }
    keep_sheet_of(scenario, lesson);
    if (!lesson.usual.failure.empty())
        return exit_incomplete;
    return lesson.usual.accepted() ? exit_passed : exit_failed;
}

} // namespace

std::string gauge_text(double pressure, UnitSystem units) {
    // An open line sloshes a little about nothing; a common gauge has a pin there.
    constexpr double pin = 2e3; // Pa
    if (std::abs(pressure) < pin)
        pressure = std::max(pressure, 0.0);
    return fmt::format("{:.{}f}", scenarios::in_display_unit(pressure, Dimension::pressure, units),
                       units == UnitSystem::us ? 1 : 2);
}

std::string hanging(std::string_view mark, const std::string& text, std::size_t width) {
    std::istringstream words{text};
    std::string lines{mark};
    std::size_t column = mark.size();
    for (std::string word; words >> word;) {
        if (column > mark.size() && column + 1 + word.size() > width) {
            lines += "\n" + std::string(mark.size(), ' ');
            column = mark.size();
        } else if (column > mark.size()) {
            lines += " ";
            ++column;
        }
        lines += word;
        column += word.size();
    }
    return lines + "\n";
}

Lesson rehearse_with_progress(const std::string& file, const scenarios::Scenario& scenario) try {
    ProgressLine line;
    double simulated = 0;
    const auto text = [&simulated] {
        return fmt::format("rehearsing: a run has come to {:.0f} s", simulated);
    };
    auto lesson = rehearse_all(scenario, [&](double time) {
        simulated = time;
        line.tell(text);
        return true;
    });
    line.end([] { return std::string("rehearsed: all runs are done"); });
    return lesson;
} catch (const std::invalid_argument& error) {
    throw std::runtime_error(fmt::format("{}: {}", file, error.what()));
}

std::vector<ToldStep> tell(const Lesson& lesson) {
    const auto& usual = lesson.usual;
    const auto units = usual.scenario.units;
    std::vector<ToldStep> list;
    for (std::size_t i = 0; i < usual.steps.size();) {
        const auto& first = usual.steps[i];
        const std::size_t count = std::max<std::size_t>(first.id.turns, 1);
        const auto steps = std::span(usual.steps).subspan(i, count);
        ToldStep step;
        step.title = step_title(first.id, usual.scenario);
        for (const auto& hand : first.hands)
            step.hands.push_back(hand_text(hand, usual.scenario));
        if (count > 1) {
            step.hands.back() += fmt::format("; {} times", count);
            step.turns = steps;
            step.hands.push_back(aim_text(usual, steps));
        }
        step.wait = wait_text(steps, units);
        step.passing = passing_text(steps, units);
        step.whose_cover = of_which_main(usual.scenario, cover_read(usual.scenario, first.id.stage));
        step.before = first.before;
        step.after = steps.back().after;
        for (const auto& each : steps) {
            step.flicker.inlet = std::max(step.flicker.inlet, each.flicker.inlet);
            step.flicker.outlet = std::max(step.flicker.outlet, each.flicker.outlet);
            step.flicker.cover = std::max(step.flicker.cover, each.flicker.cover);
            std::ranges::move(seen_texts(each), std::back_inserter(step.seen));
            for (const auto& finding : each.findings)
                step.findings.push_back(finding_predicate(finding, units));
        }
        for (const auto& slip : lesson.slips)
            if (const auto at = departure(slip, usual); at >= i && at < i + count)
                step.slips.push_back(told(slip, usual));
        list.push_back(std::move(step));
        i += count;
    }
    return list;
}

std::string rehearsal_text(const Lesson& lesson) {
    const auto& usual = lesson.usual;
    const auto units = usual.scenario.units;
    const auto unit = scenarios::display_unit(Dimension::pressure, units);
    std::string text = hanging("", usual.scenario.title, phone);
    text += hanging(
        "", fmt::format("Simulated. Gauges in {}; flicker: how far the needle shakes, peak to peak.", unit),
        phone);
    const auto steps = tell(lesson);
    for (std::size_t i = 0; i < steps.size(); ++i) {
        const auto& step = steps[i];
        text += "\n" + hanging(fmt::format("{:2}. ", i + 1), step.title, phone);
        for (const auto& finding : step.findings)
            text += hanging("    ", "Even done the right way this " + finding, phone);
        for (const auto& hand : step.hands)
            text += hanging("    - ", hand, phone);
        text += hanging("    ", step.wait, phone);
        for (const auto& line : step.seen)
            text += hanging("    ", "Seen: " + line + ".", phone);
        if (!step.passing.empty())
            text += hanging("    ", step.passing, phone);
        if (!step.turns.empty()) {
            text += fmt::format("    {:>10}{:>10}{:>10}{:>10}\n", "screw at", "inlet", "outlet", "flicker");
            for (const auto& turn : step.turns)
                text += fmt::format("    {:>10.2f}{:>10}{:>10}{:>10}\n", turn.screw,
                                    gauge_text(turn.after.inlet, units), gauge_text(turn.after.outlet, units),
                                    gauge_text(turn.flicker.outlet, units));
        }
        const auto cover = "cover" + step.whose_cover;
        const auto widest = std::max<std::size_t>(cover.size() + 1, 8);
        text += fmt::format("    {:<{}}{:>8}{:>8}{:>9}\n", "gauge", widest, "before", "after", "flicker");
        const auto gauge = [&](const std::string& name, double before, double after, double flicker) {
            text += fmt::format("    {:<{}}{:>8}{:>8}{:>9} {}\n", name, widest, gauge_text(before, units),
                                gauge_text(after, units), gauge_text(flicker, units), unit);
        };
        gauge("inlet", step.before.inlet, step.after.inlet, step.flicker.inlet);
        gauge("outlet", step.before.outlet, step.after.outlet, step.flicker.outlet);
        gauge(cover, step.before.cover, step.after.cover, step.flicker.cover);
        for (const auto& slip : step.slips) {
            text += hanging("    IF ", slip.what + ":", phone);
            for (const auto& look : slip.looks)
                text += hanging("      ! ", look, phone);
        }
    }
    text += "\n" + (usual.failure.empty() ? "" : hanging("INCOMPLETE: ", usual.failure, phone));
    text += usual.accepted() ? "PASS: the usual order keeps every stated limit\n"
                             : "FAIL: the usual order does not keep every stated limit\n";
    return text;
}

void add_rehearse(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<RehearseOptions>();
    auto command = program.add_subcommand(
        "rehearse",
        "walk the usual order of commissioning a station, step by step, and the ways to go wrong");
    command.add_option("scenario", options->scenario, "scenario file (.toml)").required();
    add_force(command, options->force);
    command.add_option("-o,--output", options->output,
                       "folder to put the orders in as scenarios, for run and report");
    add_set(command, options->set);
    command.callback([options, &action] { action = [options] { return rehearse_scenario(*options); }; });
}

} // namespace needleturn
