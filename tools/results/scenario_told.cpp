#include "tools/results/scenario_told.h"

#include "scenarios/read_scenario.h"
#include "scenarios/settings.h"
#include "tools/studies/simulate.h"

#include <algorithm>
#include <cstddef>
#include <variant>

namespace needleturn {
namespace {

using Words = std::vector<std::string>;

/// Of a table of a file, which may be anybody's: none where there is no such column of words.
Words words_in(const std::vector<sim::NamedTable>& tables, std::string_view table, std::string_view column) {
    const auto* found = sim::column_of(table_in(tables, table), column);
    const auto* words = found == nullptr ? nullptr : std::get_if<Words>(&found->rows);
    return words == nullptr ? Words{} : *words;
}

} // namespace

std::vector<std::pair<std::string, std::string>> scenario_attributes(const scenarios::Scenario& scenario) {
    return {{"title", scenario.title},
            {"question", scenario.question},
            {"scenario", scenarios::resolved(scenario)},
            {"program", program_version()},
            {"pressure_reference", pressure_reference}};
}

std::vector<sim::NamedTable> scenario_tables(const scenarios::Scenario& scenario) {
    Words keys, values, stages, first_step;
    for (auto& setting : scenarios::settings_of(scenario)) {
        keys.push_back(std::move(setting.key));
        values.push_back(std::move(setting.value));
    }
    for (const auto& stage : scenario.stages) {
        stages.push_back(stage.name);
        if (stage.first_step)
            first_step.push_back(stage.name);
    }
    std::vector<sim::NamedTable> tables{
        {"settings",
         {{"key", "", "as --set spells it", std::move(keys)},
          {"value", "", "in SI units", std::move(values)}}},
        {"stages", {{"name", "", "of each stage of the station", std::move(stages)}}}};
    if (!first_step.empty())
        tables.push_back({"first_step",
                          {{"name", "", "of each stage ahead of the pipe that leads to the others",
                            std::move(first_step)}}});
    return tables;
}

std::vector<std::pair<std::string, std::string>> settings_in(const std::vector<sim::NamedTable>& tables) {
    const auto keys = words_in(tables, "settings", "key"), values = words_in(tables, "settings", "value");
    std::vector<std::pair<std::string, std::string>> settings;
    for (std::size_t i = 0; i < std::min(keys.size(), values.size()); ++i)
        settings.emplace_back(keys[i], values[i]);
    return settings;
}

std::vector<std::string> stages_in(const std::vector<sim::NamedTable>& tables) {
    return words_in(tables, "stages", "name");
}

std::vector<std::string> first_step_in(const std::vector<sim::NamedTable>& tables) {
    return words_in(tables, "first_step", "name");
}

const sim::Table& table_in(const std::vector<sim::NamedTable>& tables, std::string_view name) {
    static const sim::Table none;
    const auto found = std::ranges::find(tables, name, &sim::NamedTable::name);
    return found == tables.end() ? none : found->columns;
}

} // namespace needleturn
