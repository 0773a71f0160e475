#include "tools/commands/report_study.h"

#include "scenarios/limits.h"
#include "scenarios/read_scenario.h"
#include "scenarios/settings.h"
#include "scenarios/study.h"
#include "sim/cases_file.h"
#include "tools/commands/map.h"
#include "tools/commands/window.h"
#include "tools/studies/case_metrics.h"
#include "tools/studies/turn_window.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <stdexcept>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace needleturn {

namespace {

using nlohmann::json;

/// More would be finer than a screen, and slow to draw.
constexpr std::size_t most_cases = 40'000;

constexpr const char* sweep_kind = "sweep";

/// Of the many columns of a sweep those that its page reads beside the metrics and the keys: what is not kept, and the figures
/// that are held against limits.
bool is_drawn(const std::string& column) {
    constexpr std::array<std::string_view, 6> own{"failure",   "passed", "broken",
                                                  "undecided", "growth", "cycle_span"};
    return std::ranges::find(own, column) != own.end()
           || std::ranges::any_of(scenarios::acceptance_limits,
                                  [&](const auto& limit) { return column == limit.metric; });
}

[[noreturn]] void refuse(const std::filesystem::path& path, const std::string& why) {
    throw std::runtime_error(path.string() + ": " + why);
}

std::string kind_of(const sim::CasesFile& cases) {
    const auto kind = cases.attribute("kind");
    return kind.empty() && !cases.attribute("study").empty() ? sweep_kind : kind;
}

json told_column(const sim::Column& column) {
    json rows;
    std::visit([&](const auto& values) { rows = values; }, column.rows);
    return {
        {"name", column.name}, {"unit", column.unit}, {"meaning", column.meaning}, {"rows", std::move(rows)}};
}

/// What every case of a sweep did, one number each of every metric, and the share that each key has in it.
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
                           {"shares", shares}});
    }
    return metrics;
}

/// The keys of a sweep that have no axis of their own, as columns.
std::vector<const sim::Column*> scattered_keys(const sim::CasesFile& cases, const scenarios::Study& study) {
    std::vector<const sim::Column*> keys;
    for (const auto& factor : study.vary)
        if (const auto found = std::ranges::find(cases.per_case, factor.key, &sim::Column::name);
            found != cases.per_case.end())
            keys.push_back(&*found);
    return keys;
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
    const auto scenario = scenarios::parse_scenario(text("scenario"), path.string());

    json settings = json::array();
    for (const auto& setting : scenarios::settings_of(scenario))
        settings.push_back({setting.key, setting.value});
    json axes = json::array();
    for (const auto& axis : cases.axes)
        axes.push_back(told_column(axis));
    json columns = json::object();
    const auto wanted = [&](const sim::Column& column) {
        return kind != sweep_kind || is_drawn(column.name);
    };
    for (const auto* table : {&cases.per_case, &cases.per_event})
        for (const auto& column : *table)
            if (wanted(column))
                columns[column.name] = told_column(column);
    json tables = json::object();
    for (const auto& table : cases.tables)
        for (const auto& column : table.columns)
            std::visit([&](const auto& values) { tables[table.name][column.name] = values; }, column.rows);
    json metrics = json::array(), keys = json::array();
    if (kind == sweep_kind) {
        const auto study = scenarios::parse_study(text("study"), path);
        metrics = told_metrics(cases, study);
        for (const auto* key : scattered_keys(cases, study))
            keys.push_back(told_column(*key));
    }
    json stages = json::array();
    for (const auto& stage : scenario.stages)
        stages.push_back(stage.name);
    return {{"kind", kind},
            {"file", path.filename().string()},
            {"title", text("title")},
            {"question", scenario.question},
            {"program", text("program")},
            {"summary", text("summary")},
            {"over", text("over")},
            {"study", text("study")},
            {"scenario", text("scenario")},
            {"settings", settings},
            {"stages", stages},
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
