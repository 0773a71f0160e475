#include "scenarios/units.h"
#include "tools/commands/sheet.h"
#include "tools/commands/sheet_content.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/delivery.h"
#include "tools/studies/simulate.h"

#include <fmt/format.h>

#include <string_view>

namespace needleturn {

using scenarios::Dimension;
using scenarios::Scenario;

namespace {

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
    const bool still = shaken.find_first_not_of("0.") == std::string::npos;
    return fmt::format("<td class=number data-head=\"{}\">{} &rarr; {}<br><span class=small>{}</span></td>",
                       head, gauge_text(before, units), gauge_text(after, units),
                       still ? "no flicker" : "flicker " + shaken);
}

} // namespace

std::string sheet_page(const Scenario& scenario, const Lesson& lesson) {
    const auto left = as_left(scenario);
    const auto units = scenario.units;
    std::string page =
        fmt::format("<!doctype html>\n<html lang=en>\n<meta charset=utf-8>\n"
                    "<meta name=generator content=\"needleturn sheet\">\n"
                    "<meta name=viewport content=\"width=device-width, initial-scale=1\">\n"
                    "<title>{0}</title>\n<style>{1}</style>\n<h1>Commissioning sheet: {0}</h1>\n"
                    "<div class=write><span>Site</span><span>Valve, serial</span>"
                    "<span>Date, time</span></div>\n",
                    escaped(scenario.title), style);
    page += "<div class=box><h2 style=\"margin-top:0\">Pressurised water hurts people</h2>\n<ul class=\"two "
            "small\">\n";
    for (const auto caution : cautions()) {
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
    for (const auto& warning : warnings_of(scenario))
        page += fmt::format("<p><b>WARNING: {}.</b></p>\n", escaped(warning));

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
        for (const auto& finding : step.findings)
            page += fmt::format("<b>Even done the right way this {}.</b> ", escaped(finding));
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
                                    gauge_text(turn.after.outlet, units),
                                    turn.id.turn < turn.id.turns ? "," : "");
            page += "</span>";
        }
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

} // namespace needleturn
