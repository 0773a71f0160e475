#include "tools/rig/trace_fit.h"

#include "scenarios/trace.h"
#include "scenarios/units.h"
#include "tools/commands/fit_found.h"
#include "tools/commands/fit_start.h"
#include "tools/commands/fit_told.h"
#include "tools/commands/told_tables.h"
#include "tools/results/fit_tables.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <sstream>
#include <utility>

namespace needleturn {

namespace {

using nlohmann::json;
using scenarios::UnitSystem;

/// Paragraphs: lines without the space before them, those that are empty left out.
json lines_of(const std::string& text) {
    json lines = json::array();
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);)
        if (const auto begin = line.find_first_not_of(' '); begin != std::string::npos)
            lines.push_back(line.substr(begin));
    return lines;
}

json sentences(const Fitted& fitted, UnitSystem units) {
    return {{"residuals", lines_of(residuals_text(fitted, units))},
            {"judgement", lines_of(judgement_text(fitted, units))}};
}

/// Rows of the values, column by column.
json told_values(const Fitted& fitted) {
    json values = json::array();
    const auto columns = columns_of_values();
    for (const auto& value : fitted.values) {
        const auto row = row_of(value);
        json told{{"key", value.unknown.key}};
        std::size_t number = 0, word = 0;
        for (const auto& column : columns)
            if (column.words)
                told[column.name] = row.words[word++];
            else
                told[column.name] = row.numbers[number++];
        values.push_back(std::move(told));
    }
    return values;
}

json names_of(const std::vector<Unknown>& unknowns) {
    json names = json::array();
    for (const auto& unknown : unknowns)
        names.push_back(unknown.key);
    return names;
}

} // namespace

TraceFit::TraceFit(const TraceFitAsked& asked)
    : question_{.file = asked.file,
                .trace = scenarios::read_trace(asked.trace, asked.channels),
                .unknowns = unknowns_of(asked.file.read(), asked.unknowns)},
      scenario_name_{asked.scenario_name},
      trace_name_{asked.trace.filename().string()} {
    question_.start = start_in_trace(asked.start, question_.trace);
}

json TraceFit::read() const {
    const auto scenario = question_.file.read();
    const auto& trace = question_.trace;
    json channels = json::array();
    for (const auto& channel : trace.channels)
        channels.push_back({{"what", scenarios::logged_names[static_cast<std::size_t>(channel.what)]},
                            {"column", channel.column},
                            {"readings", std::ranges::count_if(channel.values, [](double value) {
                                 return !std::isnan(value);
                             })}});
    return {{"title", scenario.title},
            {"notes", trace.notes},
            {"channels", channels},
            {"begin", trace.time.front() - question_.start},
            {"end", trace.time.back() - question_.start},
            {"duration", scenario.run.duration},
            {"date", trace.date},
            {"unknowns", names_of(question_.unknowns)}};
}

json TraceFit::find(std::function<void()> progress) {
    question_.progress = std::move(progress);
    const auto fitted = fit(question_);
    const std::filesystem::path folders[] = {"/scenarios/hardware"};
    const auto [found, text] =
        found_scenario(question_, fitted, question_.trace.date, scenario_name_, trace_name_, folders);
    auto tables = fit_tables(question_, fitted, question_.seed);
    tables.push_back(told_events(found));
    auto told = told_tables(tables);
    thin_traces(told);
    return {
        {"title", found.title},
        {"stages", found.stages.size()},
        {"values", told_values(fitted)},
        {"tables", std::move(told)},
        {"told", fitted.told()},
        {"explained", fitted.explained()},
        {"sentences", {{"SI", sentences(fitted, UnitSystem::si)}, {"US", sentences(fitted, UnitSystem::us)}}},
        {"caution", lines_of(fit_caution_text())},
        {"found", text}};
}

} // namespace needleturn
