#include "tools/commands/sheet.h"

#include "scenarios/read_scenario.h"
#include "sim/whole_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/print_text.h"
#include "tools/commands/rehearse.h"
#include "tools/commands/results_place.h"
#include "tools/commands/set_option.h"
#include "tools/commands/sheet_content.h"
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
        text += fmt::format("     {:<7}{:>6} > {:<6}({:>4})  read ________\n", gauge.name, gauge.before,
                            gauge.after, gauge.flicker);
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
    text += fmt::format("\nSETTINGS AND READINGS\n  {:<41}{:>7}{:>9}  {:>8}  {:>7}\n", "", "start",
                        "leave at", "as found", "as left");
    for (const auto& entry : sheet.entries) {
        constexpr std::size_t column = 41;
        const bool fits = entry.item.size() <= column;
        text += fmt::format("  {:<{}}{:>7}{:>9}  {:>8}  {:>7}\n", fits ? entry.item : entry.item + "\n  ",
                            fits ? column : entry.item.size() + 3 + column, entry.start, entry.leave,
                            "________", "_______");
    }
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

int write_sheet(const SheetOptions& options) {
    const auto extension = std::filesystem::path(options.output).extension();
    if (!options.output.empty() && extension != ".html" && extension != ".txt")
        throw std::runtime_error(
            fmt::format("sheet: -o {}: its name must end in .html or .txt", options.output));
    if (!options.output.empty())
        check_place({options.output, "sheet", {options.scenario}, options.force});
    const auto scenario = scenarios::read_scenario(options.scenario, options.set, hardware_folders());
    const auto lesson = rehearse_with_progress(scenario);
    const auto sheet = sheet_content(scenario, lesson);
    const auto text = extension == ".html" ? sheet_page(sheet) : printable(sheet_text(sheet));
    if (options.output.empty()) {
        print_text("{}", text);
    } else {
        sim::write_whole_file(options.output, std::as_bytes(std::span(text)));
        print_text("{}: {} steps, {}\n", options.output, sheet.steps.size(),
                   lesson.usual.accepted() ? "every stated limit is kept" : "NOT every stated limit is kept");
    }
    if (!lesson.usual.failure.empty())
        return exit_incomplete;
    return lesson.usual.accepted() ? exit_passed : exit_failed;
}

} // namespace

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
