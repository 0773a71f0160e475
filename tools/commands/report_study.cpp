#include "tools/commands/report_study.h"

#include "scenarios/limits.h"
#include "scenarios/read_scenario.h"
#include "scenarios/settings.h"
#include "scenarios/study.h"
#include "sim/cases_file.h"
#include "tools/commands/map.h"
#include "tools/commands/window.h"
#include "tools/page/page_texts.h"
#include "tools/studies/case_metrics.h"
#include "tools/studies/turn_window.h"
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

/// The changes that a file names beside a setting: "main.air_in_cover=40 mL, supply.pressure=7 bar".
std::vector<scenarios::Override> changes_in(const std::string& condition) {
    std::vector<scenarios::Override> changes;
    for (std::size_t begin = 0; begin < condition.size();) {
        const auto end = std::min(condition.find(", ", begin), condition.size());
        changes.push_back({condition.substr(begin, end - begin)});
        begin = end + 2;
    }
    return changes;
}

/// Such changes with quantities of this system; a value stays as it was typed where that is one of the system already.
std::string condition_in(const std::string& condition, scenarios::UnitSystem system) {
    std::string text;
    for (const auto& change : changes_in(condition)) {
        const auto equals = std::min(change.text.find('='), change.text.size() - 1);
        auto value = change.text.substr(equals + 1);
        if (const auto dimension = scenarios::common_dimension({value})) {
            const auto si = scenarios::display_unit(*dimension, scenarios::UnitSystem::si);
            const auto us = scenarios::display_unit(*dimension, scenarios::UnitSystem::us);
            const auto& unit = system == scenarios::UnitSystem::si ? si : us;
            if (si != us && !value.ends_with(fmt::format(" {}", unit)))
                value = scenarios::format_quantity(scenarios::parse_quantity(value, *dimension), *dimension,
                                                   system);
        }
        text += fmt::format("{}{}={}", text.empty() ? "" : ", ", change.text.substr(0, equals), value);
    }
    return text;
}

json condition_in_both(const std::string& condition) {
    if (condition.empty())
        return condition;
    return {{"SI", condition_in(condition, scenarios::UnitSystem::si)},
            {"US", condition_in(condition, scenarios::UnitSystem::us)}};
}

/// Names of the events of a scenario under changes, in both systems of units.
class EventNames {
  public:
    EventNames(std::string scenario, std::string place)
        : scenario_{std::move(scenario)}, place_{std::move(place)} {}

    /// As it stands where the scenario, changed so, has no such event.
    json in_both_units(const std::string& name, const std::string& condition) {
        auto known = names_.find(condition);
        if (known == names_.end())
            known = names_.emplace(condition, names_under(condition)).first;
        const auto found = known->second.find(name);
        return found == known->second.end() ? json(name) : found->second;
    }

  private:
    std::map<std::string, json> names_under(const std::string& condition) const {
        std::map<std::string, json> names;
        try {
            const auto scenario = scenarios::parse_scenario(scenario_, place_, changes_in(condition));
            const auto own = names_of_events(scenario);
            const auto both = in_both(scenario, names_of_events);
            for (std::size_t i = 0; i < own.size(); ++i)
                names.emplace(own[i], both[i]);
        } catch (const scenarios::ScenarioError&) { // hardware that is not here
        }
        return names;
    }

    std::string scenario_, place_;
    std::map<std::string, std::map<std::string, json>> names_;
};

/// Tells conditions and events of a window in both systems of units, in the columns that are told and the table of margins.
void tell_in_both(json& columns, json& tables, EventNames names) {
    const auto texts = [](json& values, const auto& tell) {
        for (std::size_t i = 0; i < values.size(); ++i)
            values[i] = tell(values[i].template get<std::string>(), i);
    };
    const auto condition = [](const std::string& text, std::size_t) { return condition_in_both(text); };
    if (columns.contains("in_event") && columns.contains("condition")) {
        const auto under = columns["condition"]["rows"];
        texts(columns["in_event"]["rows"], [&](const std::string& name, std::size_t i) {
            return names.in_both_units(name, under[i].get<std::string>());
        });
        texts(columns["condition"]["rows"], condition);
    }
    if (tables.contains("margins"))
        texts(tables["margins"]["condition"], condition);
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
        if (const auto* column = sim::column_of(cases.per_case, factor.key))
            keys.push_back(column);
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
    tell_in_both(columns, tables, EventNames(text("scenario"), path.string()));
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
