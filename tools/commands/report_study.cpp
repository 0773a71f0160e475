#include "tools/commands/report_study.h"

#include "scenarios/read_scenario.h"
#include "scenarios/settings.h"
#include "sim/cases_file.h"
#include "tools/commands/map.h"
#include "tools/commands/window.h"

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

/// Of the many columns of a sweep those that its chart reads.
constexpr std::array<std::string_view, 4> sweep_columns{"failure", "passed", "broken", "undecided"};

[[noreturn]] void refuse(const std::filesystem::path& path, const std::string& why) {
    throw std::runtime_error(path.string() + ": " + why);
}

std::string kind_of(const std::filesystem::path& path) {
    const auto kind = sim::cases_attribute(path, "kind");
    return kind.empty() && !sim::cases_attribute(path, "study").empty() ? sweep_kind : kind;
}

json told_column(const sim::Column& column) {
    json rows;
    std::visit([&](const auto& values) { rows = values; }, column.rows);
    return {
        {"name", column.name}, {"unit", column.unit}, {"meaning", column.meaning}, {"rows", std::move(rows)}};
}

bool is_numbers(const sim::Column& axis) {
    const auto* numbers = std::get_if<std::vector<double>>(&axis.rows);
    return numbers != nullptr && numbers->size() > 1;
}

/// A window has as many needles as it has coordinates, a sweep needs two keys to lie in a plane.
void check_sweep(const std::filesystem::path& path, const sim::CasesFile& cases) {
    if (sim::cases_attribute(path, "plan") != "grid")
        refuse(path,
               "report draws sweeps over a grid (plan = \"grid\"); open others in Python, see README.md");
    if (std::ranges::count_if(cases.axes, is_numbers) < 2)
        refuse(path, "report draws sweeps that vary at least two keys with numbers");
}

} // namespace

bool is_study_file(const std::filesystem::path& path) { return !kind_of(path).empty(); }

json page_study(const std::filesystem::path& path) {
    const auto kind = kind_of(path);
    const auto cases = sim::read_cases(path);
    if (kind == sweep_kind)
        check_sweep(path, cases);
    if (cases.cases() > most_cases)
        refuse(path, fmt::format("holds {} cases, and report draws at most {}", cases.cases(), most_cases));
    const auto text = [&](const char* name) { return sim::cases_attribute(path, name); };
    const auto scenario = scenarios::parse_scenario(text("scenario"), path.string());

    json settings = json::array();
    for (const auto& setting : scenarios::settings_of(scenario))
        settings.push_back({setting.key, setting.value});
    json axes = json::array();
    for (const auto& axis : cases.axes)
        axes.push_back(told_column(axis));
    json columns = json::object();
    const auto wanted = [&](const sim::Column& column) {
        return kind != sweep_kind || std::ranges::find(sweep_columns, column.name) != sweep_columns.end();
    };
    for (const auto* table : {&cases.per_case, &cases.per_event})
        for (const auto& column : *table)
            if (wanted(column))
                columns[column.name] = told_column(column);
    json tables = json::object();
    for (const auto& table : cases.tables)
        for (const auto& column : table.columns)
            std::visit([&](const auto& values) { tables[table.name][column.name] = values; }, column.rows);
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
            {"axes", axes},
            {"events", cases.events},
            {"columns", columns},
            {"tables", tables}};
}

} // namespace needleturn
