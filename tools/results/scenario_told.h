/// What every file of results tells of its scenario, so that who reads the file needs neither the scenario's files nor a model.
#pragma once

#include "scenarios/scenario.h"
#include "sim/recording.h"

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace needleturn {

/// Attributes title, question, scenario (the resolved text), program and pressure_reference.
std::vector<std::pair<std::string, std::string>> scenario_attributes(const scenarios::Scenario& scenario);

/// Tables `settings`, every key with its value in SI, and `stages`, their names as the scenario orders them; where there is a first
/// step `first_step` besides, the names of its stages.
std::vector<sim::NamedTable> scenario_tables(const scenarios::Scenario& scenario);

/// Keys with their values; none in a file of an older version.
std::vector<std::pair<std::string, std::string>> settings_in(const std::vector<sim::NamedTable>& tables);

std::vector<std::string> stages_in(const std::vector<sim::NamedTable>& tables);

/// The stages of a first step; none where there is one step.
std::vector<std::string> first_step_in(const std::vector<sim::NamedTable>& tables);

/// The table of that name; one without columns where there is none.
const sim::Table& table_in(const std::vector<sim::NamedTable>& tables, std::string_view name);

} // namespace needleturn
