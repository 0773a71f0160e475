#include "tools/commands/sheet.h"

#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "sim/whole_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/print_text.h"
#include "tools/commands/results_place.h"
#include "tools/commands/set_option.h"
#include "tools/commands/sheet_content.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/delivery.h"
#include "tools/studies/hardware_folders.h"

#include <fmt/format.h>

#include <cstdio>
#include <filesystem>
#include <memory>
#include <span>
#include <stdexcept>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::Scenario;

struct SheetOptions {
    std::string scenario, output;
    bool force = false;
    std::vector<scenarios::Override> set;
};

int write_sheet(const SheetOptions& options) {
    const auto extension = std::filesystem::path(options.output).extension();
    if (!options.output.empty() && extension != ".html" && extension != ".txt")
        throw std::runtime_error(
            fmt::format("sheet: -o {}: its name must end in .html or .txt", options.output));
    if (!options.output.empty())
        check_place({options.output, "sheet", {options.scenario}, options.force});
    const auto scenario = scenarios::read_scenario(options.scenario, options.set, hardware_folders());
    const auto lesson = rehearse_with_progress(scenario);
    const auto text =
        extension == ".html" ? sheet_page(scenario, lesson) : printable(sheet_text(scenario, lesson));
    if (options.output.empty()) {
        print_text("{}", text);
    } else {
        sim::write_whole_file(options.output, std::as_bytes(std::span(text)));
        print_text("{}: {} steps, {}\n", options.output, tell(lesson).size(),
                   lesson.usual.accepted() ? "every stated limit is kept" : "NOT every stated limit is kept");
    }
    if (!lesson.usual.failure.empty())
        return exit_incomplete;
    return lesson.usual.accepted() ? exit_passed : exit_failed;
}

} // namespace

std::string sheet_text(const Scenario& scenario, const Lesson& lesson) {
    constexpr std::size_t width = 78;
    const auto left = as_left(scenario);
    const auto units = scenario.units;
    std::string text = hanging("", "COMMISSIONING SHEET: " + scenario.title, width);
    text += "\nSite ____________________  Valve, serial ____________________  Date ________\n\n";
    text += "PRESSURISED WATER HURTS PEOPLE\n";
    for (const auto caution : cautions())
        text += hanging("  - ", std::string(caution), width);
    text += "\nSTATION\n";
    for (const auto& [name, value] : station_data(left))
        text += hanging(fmt::format("  {:<16}", name), value, width);
    text += hanging("  ", outcome_text(lesson), width);
    for (const auto& warning : warnings_of(scenario))
        text += hanging("  ", "WARNING: " + warning, width);
    text += fmt::format("\nSETTINGS AND READINGS\n  {:<41}{:>7}{:>9}  {:>8}  {:>7}\n", "", "start",
                        "leave at", "as found", "as left");
    for (const auto& entry : entries(left, lesson)) {
        constexpr std::size_t column = 41;
        const bool fits = entry.item.size() <= column;
        text += fmt::format("  {:<{}}{:>7}{:>9}  {:>8}  {:>7}\n", fits ? entry.item : entry.item + "\n  ",
                            fits ? column : entry.item.size() + 3 + column, entry.start, entry.leave,
                            "________", "_______");
    }
    text += "\nSTEPS\n";
    text += hanging("  ",
                    fmt::format("Gauges in {} before > after, simulated; (flicker, peak to peak).",
                                scenarios::display_unit(Dimension::pressure, units)),
                    width);
    const auto steps = tell(lesson);
    for (std::size_t i = 0; i < steps.size(); ++i) {
        const auto& step = steps[i];
        text += hanging(fmt::format("{:3}. ", i + 1), step.title, width);
        for (const auto& finding : step.findings)
            text += hanging("     ", "Even done the right way this " + finding, width);
        for (const auto& hand : step.hands)
            text += hanging("     - ", hand, width);
        auto notes = step.wait;
        for (const auto& line : step.seen)
            notes += " Seen: " + line + ".";
        text += hanging("     ", notes + " " + step.passing, width);
        const auto gauge = [&](const char* name, double before, double after, double flicker) {
            text +=
                fmt::format("     {:<7}{:>6} > {:<6}({:>4})  read ________\n", name,
                            gauge_text(before, units), gauge_text(after, units), gauge_text(flicker, units));
        };
        gauge("inlet", step.before.inlet, step.after.inlet, step.flicker.inlet);
        gauge("outlet", step.before.outlet, step.after.outlet, step.flicker.outlet);
        gauge("cover", step.before.cover, step.after.cover, step.flicker.cover);
    }
    text += "\nWHEN IT GOES WRONG, SIMULATED\n";
    for (std::size_t i = 0; i < steps.size(); ++i)
        for (const auto& slip : steps[i].slips)
            text += hanging("  - ",
                            fmt::format("Step {}: {}. {}.", i + 1, slip.what, fmt::join(slip.looks, ". ")),
                            width);
    return text
           + "\nSIGNED\n  Commissioned by ________________________  Licence, date ___________________\n\n"
             "  Witnessed by ___________________________  Date ____________________________\n";
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
