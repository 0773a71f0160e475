/// What needleturn map says in words.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/flow_map.h"
#include "tools/studies/limit_range.h"

#include <cstddef>
#include <string>

namespace needleturn {

/// A flow in the scenario's units; "none" for one that is infinite.
std::string flow_text(const scenarios::Scenario& scenario, double flow);

/// Minimum flows, dead zones with their limits, hunting that goes on once begun, hand-overs and rangeability, several lines.
std::string map_summary(const scenarios::Scenario& scenario, const FlowMap& map);

/// Why a map of the usual flows (FlowSweep::by_pipes) ends where it does; one line.
std::string range_end_text(const scenarios::Scenario& scenario, const FlowMap& map);

/// How far the minimum continuous flow moves with line storage, and what that does not tell; a line or two.
/// Rounded outwards to two digits, which is what it supports.
std::string limit_range_text(const scenarios::Scenario& scenario, const FlowMap& map,
                             const LimitRange& range);

/// One line per flow, `lines` of them.
std::string map_table(const scenarios::Scenario& scenario, const FlowMap& map, std::size_t lines);

/// Below a map of a station with stems that stick: what its small motions do not say.
std::string stuck_motions_text();

} // namespace needleturn
