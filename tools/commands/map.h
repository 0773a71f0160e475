/// needleturn map: over which flows a station is steady, and who carries what.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/flow_map.h"

#include <CLI/App.hpp>

#include <functional>
#include <string>

namespace needleturn {

/// Attribute `kind` of its files.
inline constexpr const char* map_kind = "flow map";

/// Adds the subcommand; see add_run.
void add_map(CLI::App& program, std::function<int()>& action);

/// Minimum continuous flow, dead zones with their limits, hand-overs and rangeability in words, several lines, in the
/// scenario's units.
std::string map_summary(const scenarios::Scenario& scenario, const FlowMap& map);

/// One line per flow, `lines` of them.
std::string map_table(const scenarios::Scenario& scenario, const FlowMap& map, std::size_t lines);

} // namespace needleturn
