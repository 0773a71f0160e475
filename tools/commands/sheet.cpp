#include "tools/commands/sheet.h"

#include "scenarios/read_scenario.h"
#include "sim/whole_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/kept_sheet.h"
#include "tools/commands/print_text.h"
#include "tools/commands/progress_line.h"
#include "tools/commands/rehearse.h"
#include "tools/commands/results_place.h"
#include "tools/commands/set_option.h"
#include "tools/commands/sheet_content.h"
#include "tools/commands/site_record_text.h"
#include "tools/page/sheet_page.h"
#include "tools/studies/hardware_folders.h"

#include <fmt/format.h>

#include <cstdio>
#include <filesystem>
#include <memory>
#include <span>
#include <stdexcept>

namespace needleturn {

namespace {

struct SheetOptions {
    std::string scenario, output;
    bool force = false;
    std::vector<scenarios::Override> set;
};

std::string step_text(const SheetStep& step, std::size_t number, std::size_t width) {
    auto text = hanging(fmt::format("{:3}. ", number), step.title, width);
    for (const auto& finding : step.findings)
        text += hanging("     ", "Even done the right way this " + finding, width);
    for (const auto& hand : step.hands)
        text += hanging("     - ", hand, width);
    auto notes = step.wait;
    for (const auto& line : step.seen)
        notes += " Seen: " + line + ".";
    text += hanging("     ", notes + " " + step.passing, width);
    for (const auto& gauge : step.gauges)
        text += fmt::format("     {:<7}{:>6} > {:<6}({:>4})  read ________{}\n", gauge.name, gauge.before,
                            gauge.after, gauge.flicker, gauge.whose);
    return text;
}

/// The item of a row in a column of so many places; a long one has a line of its own.
std::string item_text(const std::string& item, std::size_t places) {
    return item.size() <= places ? fmt::format("  {:<{}}", item, places)
                                 : fmt::format("  {}\n  {:<{}}", item, "", places);
}

std::string entries_text(const SheetContent& sheet) {
    constexpr std::size_t places = 41;
    auto text = fmt::format("  {:<{}}{:>7}{:>9}  {:>8}  {:>7}\n", "", places, "start", "leave at", "as found",
                            "as left");
    for (const auto& entry : sheet.entries)
        text += fmt::format("{}{:>7}{:>9}  {:>8}  {:>7}\n", item_text(entry.item, places), entry.start,
                            entry.leave, "________", "_______");
    return text;
}

std::string recorded_entries_text(const SheetContent& sheet) {
    constexpr std::size_t places = 35;
    const auto& heads = *sheet.record;
    auto text = hanging(
        "  ", fmt::format("{}. {}. Change: {}. Blank: for today.", heads.found, heads.left, heads.change),
        78);
    text += fmt::format("  {:<{}}{:>7}{:>9}{:>8}{:>8}  {:>7}\n", "", places, "start", "leave at", "found",
                        "left", "today");
    for (const auto& entry : sheet.entries) {
        text += fmt::format("{}{:>7}{:>9}{:>8}{:>8}  {:>7}\n", item_text(entry.item, places), entry.start,
                            entry.leave, entry.found, entry.left, "_______");
        if (!entry.change.empty())
            text += fmt::format("      change: {}\n", entry.change);
    }
    return text;
}

/// Plain text of at most 78 columns.
std::string sheet_text(const SheetContent& sheet) {
    constexpr std::size_t width = 78;
    std::string text = hanging("", "COMMISSIONING SHEET: " + sheet.title, width);
    text += "\nSite ____________________  Valve, serial ____________________  Date ________\n\n";
    text += "PRESSURISED WATER HURTS PEOPLE\n";
    for (const auto& caution : sheet.cautions)
        text += hanging("  - ", caution, width);
    text += "\nSTATION\n";
    for (const auto& [name, value] : sheet.station)
        text += hanging(fmt::format("  {:<16}", name), value, width);
    text += hanging("  ", sheet.outcome, width);
    for (const auto& warning : sheet.warnings)
        text += hanging("  ", "WARNING: " + warning, width);
    if (!sheet.records.empty())
        text += "\nFOUND AND LEFT BEFORE\n";
    for (const auto& sentence : sheet.records)
        text += hanging("  - ", sentence, width);
    text += "\nSETTINGS AND READINGS\n" + (sheet.record ? recorded_entries_text(sheet) : entries_text(sheet));
    text += "\nSTEPS\n";
    text += hanging(
        "  ",
        fmt::format("Gauges in {} before > after, simulated; (flicker, peak to peak).", sheet.pressure_unit),
        width);
    for (std::size_t i = 0; i < sheet.steps.size(); ++i)
        text += step_text(sheet.steps[i], i + 1, width);
    text += "\nWHEN IT GOES WRONG, SIMULATED\n";
    for (std::size_t i = 0; i < sheet.steps.size(); ++i)
        for (const auto& [what, looks] : sheet.steps[i].wrongs)
            text += hanging("  - ", fmt::format("Step {}: {}. {}.", i + 1, what, looks), width);
    return text
           + "\nSIGNED\n  Commissioned by ________________________  Licence, date ___________________\n\n"
             "  Witnessed by ___________________________  Date ____________________________\n";
}

/// record_sentences, telling how far it has come.
std::vector<std::string> records_with_progress(const scenarios::Scenario& scenario) {
    ProgressLine line;
    auto sentences = record_sentences(scenario, [&line](double time) {
        line.tell([time] { return fmt::format("as found and as left: a run has come to {:.0f} s", time); });
        return true;
    });
    line.end([] { return std::string("as found and as left: all runs are done"); });
    return sentences;
}

KeptSheet sheet_of(const scenarios::Scenario& scenario, const Lesson& lesson) {
    auto sheet = sheet_content(scenario, lesson);
    sheet.records = records_with_progress(scenario);
    return {printable(sheet_text(sheet)), sheet_page(sheet), sheet.steps.size(), lesson.usual.accepted()};
}

int write_sheet(const SheetOptions& options) {
    const auto extension = std::filesystem::path(options.output).extension();
    if (!options.output.empty() && extension != ".html" && extension != ".txt")
        throw std::runtime_error(
            fmt::format("sheet: -o {}: its name must end in .html or .txt", options.output));
    if (!options.output.empty())
        check_place({options.output, "sheet", {options.scenario}, options.force});
    const auto scenario = scenarios::read_scenario(options.scenario, options.set, hardware_folders());
    auto sheet = kept_sheet(scenario);
    bool complete = true;
    if (!sheet) {
        const auto lesson = rehearse_with_progress(options.scenario, scenario);
        complete = lesson.usual.failure.empty();
        sheet = sheet_of(scenario, lesson);
        if (complete)
            keep_sheet(scenario, *sheet);
    }
    if (options.output.empty()) {
        print_text("{}", sheet->text);
    } else {
        const auto& text = extension == ".html" ? sheet->page : sheet->text;
        sim::write_whole_file(options.output, std::as_bytes(std::span(text)));
        print_text("{}: {} steps, {}\n", options.output, sheet->steps,
                   sheet->accepted ? "every stated limit is kept" : "NOT every stated limit is kept");
    }
    if (!complete)
        return exit_incomplete;
    return sheet->accepted ? exit_passed : exit_failed;
}

} // namespace

void keep_sheet_of(const scenarios::Scenario& scenario, const Lesson& lesson) {
    if (lesson.usual.failure.empty() && !kept_sheet(scenario))
        keep_sheet(scenario, sheet_of(scenario, lesson));
}

void add_sheet(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<SheetOptions>();
    auto command = program.add_subcommand(
        "sheet", "the sheet that goes to site: steps, expected readings, room for what was found and left");
    command.add_option("scenario", options->scenario, "scenario file (.toml)").required();
    add_force(command, options->force);
    command.add_option("-o,--output", options->output,
                       "file, .html to print or .txt (default: plain text on the screen)");
    add_set(command, options->set);
    command.callback([options, &action] { action = [options] { return write_sheet(*options); }; });
}

} // namespace needleturn
