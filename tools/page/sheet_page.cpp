#include "tools/page/sheet_page.h"

#include <fmt/format.h>

#include <string_view>

namespace needleturn {

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
  h2 { margin: .4em 0 .15em; }
  th, td { padding: .08em .35em; }
  .two { columns: 2; column-gap: 5mm; }
  .write { margin: .3em 0; }
  .write span { min-height: 6mm; }
}
)";

/// "3.02 -> 4.14" and the flicker below.
std::string gauge_cell(const SheetGauge& gauge) {
    const bool still = gauge.flicker.find_first_not_of("0.") == std::string::npos;
    return fmt::format("<td class=number data-head=\"{}\">{} &rarr; {}<br><span class=small>{}{}</span></td>",
                       escaped(gauge.name), gauge.before, gauge.after,
                       still ? "no flicker" : "flicker " + gauge.flicker,
                       gauge.whose.empty() ? "" : "<br>" + escaped(gauge.whose.substr(1)));
}

/// Its key word in bold, where there is one.
std::string caution_item(const std::string& caution) {
    constexpr std::size_t longest_key_word = 30;
    const auto colon = caution.find(':');
    if (colon >= longest_key_word)
        return fmt::format("<li>{}</li>\n", escaped(caution));
    return fmt::format("<li><b>{}</b>{}</li>\n", escaped(caution.substr(0, colon)),
                       escaped(caution.substr(colon)));
}

std::string step_row(const SheetStep& step, std::size_t number) {
    auto row = fmt::format("<tr><td>{}<td><b>{}.</b> ", number, escaped(step.title));
    for (const auto& finding : step.findings)
        row += fmt::format("<b>Even done the right way this {}.</b> ", escaped(finding));
    row += escaped(fmt::format("{}", fmt::join(step.hands, "; ")));
    row += fmt::format(". <i>{}", escaped(step.wait));
    for (const auto& line : step.seen)
        row += fmt::format(" Seen: {}.", escaped(line));
    if (!step.passing.empty())
        row += " " + escaped(step.passing);
    row += "</i>";
    if (!step.turns.empty()) {
        row += fmt::format(" <span class=small>Screw at &rarr; {}:", step.turns_show);
        const char* separator = "";
        for (const auto& [screw, shown] : step.turns) {
            row += fmt::format("{} {}&nbsp;&rarr;&nbsp;{}", separator, screw, shown);
            separator = ",";
        }
        row += "</span>";
    }
    for (const auto& gauge : step.gauges)
        row += gauge_cell(gauge);
    return row + "<td class=blank data-head=Read></tr>\n";
}

std::string entries_table(const SheetContent& sheet) {
    std::string table = "<table>\n<thead><tr><th>Item<th>Start<th>Leave at<th class=blank>As found<th "
                        "class=blank>As left</thead>\n";
    for (const auto& entry : sheet.entries)
        table += fmt::format(
            "<tr><td>{}<td class=number>{}<td class=number>{}<td class=blank><td class=blank></tr>\n",
            escaped(entry.item), entry.start, entry.leave);
    return table + "</table>\n";
}

/// With what was found and left before; the blank column is for today.
std::string recorded_table(const SheetContent& sheet) {
    const auto& heads = *sheet.record;
    auto table =
        fmt::format("<table class=steps>\n<thead><tr><th>Item<th>Start<th>Leave at<th>{}<th>{}<th>Change "
                    "{}<th class=blank>Today</thead>\n",
                    escaped(heads.found), escaped(heads.left), escaped(heads.change));
    for (const auto& entry : sheet.entries)
        table +=
            fmt::format("<tr><td>{}<td class=number data-head=Start>{}<td class=number data-head=\"Leave "
                        "at\">{}<td class=number data-head=Found>{}<td class=number data-head=Left>{}<td "
                        "data-head=Change>{}<td class=blank data-head=Today></tr>\n",
                        escaped(entry.item), entry.start, entry.leave, entry.found, entry.left, entry.change);
    return table + "</table>\n";
}

} // namespace

std::string sheet_page(const SheetContent& sheet) {
    std::string page =
        fmt::format("<!doctype html>\n<html lang=en>\n<meta charset=utf-8>\n"
                    "<meta name=generator content=\"needleturn sheet\">\n"
                    "<meta name=viewport content=\"width=device-width, initial-scale=1\">\n"
                    "<title>{0}</title>\n<style>{1}</style>\n<main>\n<h1>Commissioning sheet: {0}</h1>\n"
                    "<div class=write><span>Site</span><span>Valve, serial</span>"
                    "<span>Date, time</span></div>\n",
                    escaped(sheet.title), style);
    page += "<div class=box><h2 style=\"margin-top:0\">Pressurised water hurts people</h2>\n<ul class=\"two "
            "small\">\n";
    for (const auto& caution : sheet.cautions)
        page += caution_item(caution);
    page += "</ul></div>\n<h2>Station</h2>\n<p>";
    const char* separator = "";
    for (const auto& [name, value] : sheet.station) {
        page += fmt::format("{}<b>{}:</b> {}", separator, escaped(name), escaped(value));
        separator = " &middot; ";
    }
    page += fmt::format("</p>\n<p>{}</p>\n", escaped(sheet.outcome));
    for (const auto& warning : sheet.warnings)
        page += fmt::format("<p><b>WARNING: {}.</b></p>\n", escaped(warning));

    if (!sheet.records.empty())
        page += "<h2>Found and left before</h2>\n";
    for (const auto& sentence : sheet.records)
        page += fmt::format("<p>{}</p>\n", escaped(sentence));
    page +=
        "<h2>Settings and readings</h2>\n" + (sheet.record ? recorded_table(sheet) : entries_table(sheet));

    page += fmt::format(
        "<h2>Steps</h2>\n<p>Gauges in {} before &rarr; after, simulated; flicker: how far the needle shakes, "
        "peak to peak.</p>\n<table class=steps>\n<thead><tr><th>&numero;<th>Do<th>Inlet<th>Outlet<th>"
        "Cover<th class=blank>Read</thead>\n",
        sheet.pressure_unit);
    for (std::size_t i = 0; i < sheet.steps.size(); ++i)
        page += step_row(sheet.steps[i], i + 1);
    page += "</table>\n<h2>When it goes wrong, simulated</h2>\n<ul class=small>\n";
    for (std::size_t i = 0; i < sheet.steps.size(); ++i)
        for (const auto& [what, looks] : sheet.steps[i].wrongs)
            page += fmt::format("<li><b>Step {}: {}.</b> {}.</li>\n", i + 1, escaped(what), escaped(looks));
    page +=
        "</ul>\n<div class=sign><h2>Signed</h2>\n<div class=write><span>Commissioned by</span><span>Licence, "
        "date</span></div>\n<div class=write><span>Witnessed by</span><span>Date</span></div>\n";
    page += fmt::format("<p class=small>{}. Local codes and licensed practice come first.</p></div>\n"
                        "</main>\n</html>\n",
                        escaped(sheet.program));
    return page;
}

} // namespace needleturn
