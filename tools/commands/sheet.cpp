#include "tools/commands/sheet.h"

#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "sim/whole_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/rehearse.h"
#include "tools/commands/set_option.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/simulate.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <stdexcept>
#include <string_view>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

/// Common practice of the trade, no source; what binds is what the last one says.
constexpr std::array<std::string_view, 9> cautions{
    "Stored pressure: water and air behind a fitting, a cover or a plug come out at once. Crack fittings "
    "slowly, a quarter "
    "turn, face and hands aside, eyes protected; never take one out under pressure.",
    "Relieve before opening: isolate, open an outlet, and see outlet and cover gauges at zero before "
    "anything is opened. "
    "A gauge at zero may be blocked or shut off: try a second point.",
    "Hot water scalds: know the temperature before a fitting is cracked or an outlet opened.",
    "Discharge and electricity: lead the water away; keep it from switchgear, cables, floors that people "
    "walk on; no pump or "
    "motor above its drain.",
    "Rating downstream: everything behind the valve must stand the inlet pressure or be guarded by a relief "
    "valve that works "
    "and is set; a valve with a dry cover holds nothing back.",
    "Isolation and lock-out: lock and tag the cocks and what can start a pump; one key, one person; tell "
    "those who will be "
    "without water, fire protection first.",
    "Confined chambers: test the air, ventilate, keep a second person outside; do not enter for what can be "
    "done from above.",
    "Wholesome water: only approved parts and lubricants; clean hands and tools; flush, and disinfect where "
    "the rules ask for "
    "it, before the water is drunk.",
    "Local codes, the maker's instructions and licensed practice come before this sheet. Its readings are "
    "simulated with "
    "generic hardware: a valve that reads otherwise is not wrong, it is to be understood before going on.",
};

/// A line of the table of settings and readings.
struct Entry {
    std::string item, start, leave;
};

/// `scenario` as its adjustments leave it.
std::vector<Entry> entries(const Scenario& scenario, const Lesson& lesson) {
    const auto units = scenario.units;
    const auto turns = [](double value) { return fmt::format("{:.2f}", value); };
    std::vector<Entry> list;
    for (std::size_t i = 0; i < scenario.stages.size(); ++i) {
        const auto& stage = scenario.stages[i];
        list.push_back({stage.name + ": screw, turns from slack",
                        turns(lesson.usual.scenario.stages[i].set_pressure / per_turn(stage)),
                        turns(stage.set_pressure / per_turn(stage))});
        if (!stage.pilot_operated())
            continue;
        const auto needle = [&](const char* name, double value) {
            list.push_back(
                {fmt::format("{}: {}, turns from seated", stage.name, name), turns(value), turns(value)});
        };
        needle("opening control", stage.opening_control);
        needle("closing control", stage.closing_control);
    }
    const auto gauge = [&](const std::string& item, double value) {
        list.push_back({fmt::format("{}, {}", item, scenarios::display_unit(Dimension::pressure, units)), "-",
                        gauge_text(value, units)});
    };
    const auto& steps = lesson.usual.steps;
    for (auto step = steps.begin(); step != steps.end(); ++step) {
        const bool again = std::ranges::find(steps.begin(), step, step->title, &RehearsalStep::title) != step;
        if (!step->title.starts_with("Prove at ") || again)
            continue;
        const auto at = fmt::format("at {}", format_quantity(step->flow, Dimension::flow, units));
        gauge("outlet gauge " + at, step->after.outlet);
        if (!step->title.starts_with("Prove at full"))
            continue;
        gauge("flicker of the outlet " + at, step->flicker.outlet);
        gauge("inlet gauge " + at, step->after.inlet);
        gauge("cover gauge " + at, step->after.cover);
    }
    if (!steps.empty())
        gauge("outlet gauge at rest", steps.back().after.outlet);
    return list;
}

/// "Supply", "7.50 bar": what the station is.
std::vector<std::pair<std::string, std::string>> station_data(const Scenario& scenario) {
    const auto units = scenario.units;
    const auto show = [&](double value, Dimension dimension) {
        return format_quantity(value, dimension, units);
    };
    std::vector<std::pair<std::string, std::string>> rows;
    rows.emplace_back("Supply, static", show(scenario.supply.pressure, Dimension::pressure));
    for (const auto& stage : scenario.stages)
        rows.emplace_back(stage.name, fmt::format("{}, set {} at rest", scenarios::name_of(stage.hardware),
                                                  show(stage.set_pressure, Dimension::pressure)));
    const auto flows = proof_flows(scenario);
    rows.emplace_back("Flows to prove", flows.full > flows.low
                                            ? fmt::format("{}, {}, {}", show(flows.low, Dimension::flow),
                                                          show(flows.middle, Dimension::flow),
                                                          show(flows.full, Dimension::flow))
                                            : show(flows.full, Dimension::flow));
    rows.emplace_back("Water", show(scenario.water.temperature, Dimension::temperature));
    std::string limits;
    const auto limit = [&](const char* name, const std::optional<double>& value, Dimension dimension) {
        if (value)
            limits += fmt::format("{}{} {}", limits.empty() ? "" : "; ", name, show(*value, dimension));
    };
    const auto& accept = scenario.accept;
    limit("outlet at most", accept.highest_outlet_pressure, Dimension::pressure);
    limit("at least", accept.lowest_outlet_pressure, Dimension::pressure);
    limit("hunting at most", accept.hunting_peak_to_peak, Dimension::pressure);
    limit("settled within", accept.settling_time, Dimension::time);
    limit("fall-off at most", accept.fall_off, Dimension::pressure);
    rows.emplace_back("Limits", limits.empty() ? "none stated" : limits);
    return rows;
}

std::string escaped(std::string_view text) {
    std::string out;
    for (const char c : text) {
        if (c == '&')
            out += "&amp;";
        else if (c == '<')
            out += "&lt;";
        else if (c == '>')
            out += "&gt;";
        else
            out += c;
    }
    return out;
}

constexpr std::string_view style = R"(
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 60rem; color: #000; background: #fff;
       font: 1rem/1.35 system-ui, "Helvetica Neue", Arial, sans-serif; }
h1 { font-size: 1.35em; margin: 0; }
h2 { font-size: 1.05em; margin: .7em 0 .2em; break-after: avoid; }
p { margin: .2em 0; }
ol, ul { margin: 0; padding-left: 1.2em; }
table { border-collapse: collapse; width: 100%; }
th, td { border: 1px solid #000; padding: .15em .35em; text-align: left; vertical-align: top; }
th { border-bottom-width: 2px; }
thead { display: table-header-group; }
tr, li, .sign { break-inside: avoid; }
.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
.blank { min-width: 5.5em; }
.small { font-size: .87em; }
.box { border: 2px solid #000; padding: .3em .5em; }
.write { display: flex; flex-wrap: wrap; gap: .4em 1.5em; margin: .5em 0; }
.write span { flex: 1 1 12em; border-bottom: 1px solid #000; min-height: 1.9em; display: flex; align-items: flex-end; }
@media screen and (max-width: 45rem) {
  .steps, .steps tbody, .steps tr, .steps td { display: block; }
  .steps thead { display: none; }
  .steps tr { border: 2px solid #000; margin-bottom: .7em; }
  .steps td { border: 0; text-align: left; white-space: normal; }
  .steps td[data-head]::before { content: attr(data-head) ": "; font-weight: bold; }
  .blank { min-width: 3em; }
}
@page { margin: 11mm; }
@media print {
  body { padding: 0; max-width: none; font-size: 7.9pt; line-height: 1.2; }
  .two { columns: 2; column-gap: 5mm; }
  .write span { min-height: 7mm; }
}
)";

/// "3.02 -> 4.14" and the flicker below.
std::string gauge_cell(const char* head, double before, double after, double flicker,
                       scenarios::UnitSystem units) {
    const auto shaken = gauge_text(flicker, units);
    const bool steady = shaken.find_first_not_of("0.") == std::string::npos;
    return fmt::format("<td class=number data-head=\"{}\">{} &rarr; {}<br><span class=small>{}</span></td>",
                       head, gauge_text(before, units), gauge_text(after, units),
                       steady ? "steady" : "flicker " + shaken);
}

struct SheetOptions {
    std::string scenario, output;
    std::vector<scenarios::Override> set;
};

int write_sheet(const SheetOptions& options) {
    const auto extension = std::filesystem::path(options.output).extension();
    if (!options.output.empty() && extension != ".html" && extension != ".txt")
        throw std::runtime_error(
            fmt::format("sheet: -o {}: its name must end in .html or .txt", options.output));
    const auto scenario = scenarios::read_scenario(options.scenario, options.set, hardware_folders());
    const auto lesson = rehearse_all(scenario);
    const auto text = extension == ".html" ? sheet_page(scenario, lesson) : sheet_text(scenario, lesson);
    if (options.output.empty()) {
        fmt::print("{}", text);
    } else {
        sim::write_whole_file(options.output, std::as_bytes(std::span(text)));
        fmt::print("{}: {} steps, {}\n", options.output, tell(lesson).size(),
                   lesson.usual.accepted() ? "every stated limit is kept" : "NOT every stated limit is kept");
    }
    if (!lesson.usual.failure.empty())
        return exit_incomplete;
    return lesson.usual.accepted() ? exit_passed : exit_failed;
}

std::string outcome_text(const Lesson& lesson) {
    if (!lesson.usual.failure.empty())
        return "The simulated rehearsal ended early: " + lesson.usual.failure;
    return lesson.usual.accepted()
               ? "The simulated rehearsal keeps every stated limit."
               : "The simulated rehearsal does NOT keep every stated limit: see the steps.";
}

} // namespace

std::string sheet_page(const Scenario& scenario, const Lesson& lesson) {
    const auto left = as_left(scenario);
    const auto units = scenario.units;
    std::string page =
        fmt::format("<!doctype html>\n<html lang=en>\n<meta charset=utf-8>\n"
                    "<meta name=viewport content=\"width=device-width, initial-scale=1\">\n"
                    "<title>{0}</title>\n<style>{1}</style>\n<h1>Commissioning sheet: {0}</h1>\n"
                    "<div class=write><span>Site</span><span>Valve, serial</span>"
                    "<span>Date, time</span></div>\n",
                    escaped(scenario.title), style);
    page += "<div class=box><h2 style=\"margin-top:0\">Pressurised water hurts people</h2>\n<ul class=\"two "
            "small\">\n";
    for (const auto caution : cautions) {
        const auto colon = caution.find(':');
        // The key word in bold, where there is one.
        if (colon < 30)
            page += fmt::format("<li><b>{}</b>{}</li>\n", escaped(caution.substr(0, colon)),
                                escaped(caution.substr(colon)));
        else
            page += fmt::format("<li>{}</li>\n", escaped(caution));
    }
    page += "</ul></div>\n<h2>Station</h2>\n<p>";
    std::string separator;
    for (const auto& [name, value] : station_data(left)) {
        page += fmt::format("{}<b>{}:</b> {}", separator, escaped(name), escaped(value));
        separator = " &middot; ";
    }
    page += fmt::format("</p>\n<p>{}</p>\n", escaped(outcome_text(lesson)));

    page += "<h2>Settings and readings</h2>\n<table>\n<thead><tr><th>Item<th>Start<th>Leave at<th "
            "class=blank>As found<th class=blank>As left</thead>\n";
    for (const auto& entry : entries(left, lesson))
        page += fmt::format(
            "<tr><td>{}<td class=number>{}<td class=number>{}<td class=blank><td class=blank></tr>\n",
            escaped(entry.item), entry.start, entry.leave);
    page += "</table>\n";

    page += fmt::format(
        "<h2>Steps</h2>\n<p>Gauges in {} before &rarr; after, simulated; flicker: how far the needle shakes, "
        "peak to peak.</p>\n<table class=steps>\n<thead><tr><th>&numero;<th>Do<th>Inlet<th>Outlet<th>"
        "Cover<th class=blank>Read</thead>\n",
        scenarios::display_unit(Dimension::pressure, units));
    const auto steps = tell(lesson);
    for (std::size_t i = 0; i < steps.size(); ++i) {
        const auto& step = steps[i];
        page += fmt::format("<tr><td>{}<td><b>{}.</b> ", i + 1, escaped(step.title));
        std::string end;
        for (const auto& hand : step.hands) {
            page += end + escaped(hand);
            end = "; ";
        }
        page += fmt::format(". <i>{}", escaped(step.wait));
        for (const auto& line : step.seen)
            page += fmt::format(" Seen: {}.", escaped(line));
        if (!step.passing.empty())
            page += " " + escaped(step.passing);
        page += "</i>";
        if (!step.turns.empty()) {
            page += " <span class=small>Screw at &rarr; outlet:";
            for (const auto& turn : step.turns)
                page += fmt::format(" {:.2f}&nbsp;&rarr;&nbsp;{}{}", turn.screw,
                                    gauge_text(turn.after.outlet, units), turn.turn < turn.turns ? "," : "");
            page += "</span>";
        }
        for (const auto& limit : step.broken)
            page += fmt::format(" <b>BREAKS {}</b>", escaped(limit));
        page += gauge_cell("Inlet", step.before.inlet, step.after.inlet, step.flicker.inlet, units);
        page += gauge_cell("Outlet", step.before.outlet, step.after.outlet, step.flicker.outlet, units);
        page += gauge_cell("Cover", step.before.cover, step.after.cover, step.flicker.cover, units);
        page += "<td class=blank data-head=Read></tr>\n";
    }
    page += "</table>\n<h2>When it goes wrong, simulated</h2>\n<ul class=small>\n";
    for (std::size_t i = 0; i < steps.size(); ++i)
        for (const auto& slip : steps[i].slips)
            page += fmt::format("<li><b>Step {}: {}.</b> {}.</li>\n", i + 1, escaped(slip.what),
                                escaped(fmt::format("{}", fmt::join(slip.looks, ". "))));
    page +=
        "</ul>\n<div class=sign><h2>Signed</h2>\n<div class=write><span>Commissioned by</span><span>Licence, "
        "date</span></div>\n<div class=write><span>Witnessed by</span><span>Date</span></div>\n";
    page +=
        fmt::format("<p class=small>{}. Local codes and licensed practice come first.</p></div>\n</html>\n",
                    escaped(program_version()));
    return page;
}

std::string sheet_text(const Scenario& scenario, const Lesson& lesson) {
    constexpr std::size_t width = 78;
    const auto left = as_left(scenario);
    const auto units = scenario.units;
    std::string text = hanging("", "COMMISSIONING SHEET: " + scenario.title, width);
    text += "\nSite ____________________  Valve, serial ____________________  Date ________\n\n";
    text += "PRESSURISED WATER HURTS PEOPLE\n";
    for (const auto caution : cautions)
        text += hanging("  - ", std::string(caution), width);
    text += "\nSTATION\n";
    for (const auto& [name, value] : station_data(left))
        text += hanging(fmt::format("  {:<16}", name), value, width);
    text += hanging("  ", outcome_text(lesson), width);
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
        for (const auto& hand : step.hands)
            text += hanging("     - ", hand, width);
        auto notes = step.wait;
        for (const auto& line : step.seen)
            notes += " Seen: " + line + ".";
        text += hanging("     ", notes + " " + step.passing, width);
        for (const auto& limit : step.broken)
            text += hanging("     BREAKS ", limit, width);
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

void add_sheet(CLI::App& program, std::function<int()>& action) {
    const auto options = std::make_shared<SheetOptions>();
    auto* command = program.add_subcommand(
        "sheet", "the sheet that goes to site: steps, expected readings, room for what was found and left");
    command->add_option("scenario", options->scenario, "scenario file (.toml)")->required();
    command->add_option("-o,--output", options->output,
                        "file, .html to print or .txt (default: plain text on the screen)");
    add_set(*command, options->set);
    command->callback([options, &action] { action = [options] { return write_sheet(*options); }; });
}

} // namespace needleturn
