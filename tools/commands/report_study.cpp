#include "tools/commands/report_study.h"

#include "scenarios/limits.h"
#include "scenarios/study.h"
#include "sim/cases_file.h"
#include "tools/commands/site_record_text.h"
#include "tools/commands/told_tables.h"
#include "tools/results/kinds.h"
#include "tools/results/scenario_told.h"
#include "tools/studies/case_metrics.h"
#include "tools/studies/turn_window.h"
#include "tools/studies/valve_family.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <map>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn {

namespace {

using nlohmann::json;

/// More would be finer than a screen, and slow to draw.
constexpr std::size_t most_cases = 40'000;

/// Of the many columns of a sweep those that its page reads beside the metrics and the keys: what is not kept, and the figures
/// that are held against limits.
bool is_drawn(const std::string& column) {
    constexpr std::array<std::string_view, 6> own{"failure",   "passed", "broken",
                                                  "undecided", "growth", "cycle_span"};
    return std::ranges::find(own, column) != own.end() || scenarios::limit_of_column(column);
}

[[noreturn]] void refuse(const std::filesystem::path& path, const std::string& why) {
    throw std::runtime_error(path.string() + ": " + why);
}

std::string kind_of(const sim::CasesFile& cases) {
    const auto kind = cases.attribute("kind");
    return kind.empty() && !cases.attribute("study").empty() ? sweep_kind : kind;
}

json told_column(const sim::Table& table, const sim::Column& column) {
    return {{"name", column.name},
            {"unit", column.unit},
            {"meaning", column.meaning},
            {"rows", told_rows(table, column)}};
}

/// Which keys move a metric of cases that are spread at random; null of other plans, and where a key has words for values.
json told_ranking(const sim::CasesFile& cases, const scenarios::Study& study, const CaseMetric& metric) {
    using Plan = scenarios::Study::Plan;
    if (study.plan != Plan::latin_hypercube && study.plan != Plan::sobol)
        return nullptr;
    std::vector<std::vector<double>> places;
    for (const auto& factor : study.vary) {
        const auto* column = sim::column_of(cases.per_case, factor.key);
        const auto* numbers = column == nullptr ? nullptr : std::get_if<std::vector<double>>(&column->rows);
        if (numbers == nullptr)
            return nullptr;
        places.push_back(*numbers);
    }
    const auto ranking = rank_inputs(study, places, metric.values);
    json inputs = json::array();
    for (const auto& input : ranking.by_size)
        inputs.push_back({{"key", input.key}, {"correlation", input.correlation}});
    return {{"rows", ranking.rows},     {"inputs", ranking.inputs}, {"least", ranking.least},
            {"varies", ranking.varies}, {"enough", ranking.enough}, {"by_size", inputs}};
}

/// What every case of a sweep did, one number each of every metric, and what each key has to do with it.
json told_metrics(const sim::CasesFile& cases, const scenarios::Study& study) {
    json metrics = json::array();
    for (const auto& metric : case_metrics(cases, study.metrics)) {
        json shares;
        if (study.plan == scenarios::Study::Plan::sensitivity) {
            const auto found = key_shares(metric.values, study.vary.size());
            json keys = json::array();
            for (std::size_t i = 0; i < found.of_key.size(); ++i)
                keys.push_back({{"key", study.vary[i].key},
                                {"total", found.of_key[i].total},
                                {"total_error", found.of_key[i].total_error},
                                {"alone", found.of_key[i].alone},
                                {"alone_error", found.of_key[i].alone_error}});
            shares = {
                {"rows", found.rows}, {"left_out", found.left_out}, {"varies", found.varies}, {"keys", keys}};
        }
        metrics.push_back({{"name", metric.name},
                           {"unit", metric.unit},
                           {"meaning", metric.meaning},
                           {"per_event", metric.per_event},
                           {"largest", metric.largest},
                           {"rows", metric.values},
                           {"shares", shares},
                           {"ranking", told_ranking(cases, study, metric)}});
    }
    return metrics;
}

/// The keys of a sweep that have no axis of their own, as columns.
std::vector<const sim::Column*> scattered_keys(const sim::CasesFile& cases, const scenarios::Study& study) {
    std::vector<const sim::Column*> keys;
    for (const auto& factor : study.vary)
        if (const auto* column = sim::column_of(cases.per_case, factor.key))
            keys.push_back(column);
    return keys;
}

/// Whether all is there that the page of a fit reads whatever the trace was.
void require_tables(const std::filesystem::path& path, const json& tables) {
    const auto table = [&](const std::string& name) -> const json& {
        if (!tables.contains(name))
            refuse(path, fmt::format("is no file of needleturn fit: it has no table {}", name));
        return tables[name];
    };
    for (const auto* name : {"fit", "family", "events"})
        table(name);
    for (const auto& channel : table("channel").at("channel"))
        table("trace_" + channel.get<std::string>());
}

} // namespace

bool is_study_file(const std::filesystem::path& path) {
    return !sim::cases_attribute(path, "kind").empty() || !sim::cases_attribute(path, "study").empty();
}

json page_study(const std::filesystem::path& path) {
    const auto cases = sim::read_cases(path);
    const auto kind = kind_of(cases);
    if (cases.cases() > most_cases)
        refuse(path, fmt::format("holds {} cases, and report draws at most {}", cases.cases(), most_cases));
    const auto text = [&](const char* name) { return cases.attribute(name); };
    json axes = json::array();
    for (const auto& axis : cases.axes)
        axes.push_back(told_column(cases.axes, axis));
    json columns = json::object();
    const auto wanted = [&](const sim::Column& column) {
        return !stands_beside(column) && (kind != sweep_kind || is_drawn(column.name));
    };
    for (const auto* table : {&cases.per_case, &cases.per_event})
        for (const auto& column : *table)
            if (wanted(column))
                columns[column.name] = told_column(*table, column);
    json tables = told_tables(cases.tables);
    if (kind == fit_kind) {
        require_tables(path, tables);
        thin_traces(tables);
    }
    json metrics = json::array(), keys = json::array();
    if (kind == sweep_kind) {
        const auto study = scenarios::parse_study(text("study"), path);
        metrics = told_metrics(cases, study);
        for (const auto* key : scattered_keys(cases, study))
            keys.push_back(told_column(cases.per_case, *key));
    }
    return {{"kind", kind},
            {"file", path.filename().string()},
            {"title", text("title")},
            {"question", text("question")},
            {"program", text("program")},
            {"summary", text("summary")},
            {"over", text("over")},
            {"study", text("study")},
            {"scenario_file", text("scenario_file")},
            {"trace_file", text("trace_file")},
            {"scenario", text("scenario")},
            {"stood_as", stood_as_text(text("scenario"))},
            {"settings", settings_in(cases.tables)},
            {"stages", stages_in(cases.tables)},
            {"first_step", first_step_in(cases.tables)},
            {"plan", text("plan")},
            {"hard_to_set", hard_to_set},
            {"axes", axes},
            {"keys", keys},
            {"metrics", metrics},
            {"events", cases.events},
            {"columns", columns},
            {"tables", tables}};
}

} // namespace needleturn
