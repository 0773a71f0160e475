/// The line of a station: pipes, what stands beside them, and who draws, with their drives.
#pragma once

#include "models/laws/water.h"
#include "models/station_parts.h"
#include "scenarios/part_builder.h"
#include "scenarios/scenario.h"
#include "sim/contract/schedule.h"

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace needleturn::scenarios {

/// By the names that the station gives its drives.
using NamedDrives = std::map<std::string, Schedule>;

/// `start` and the steps, each value turned by `convert`.
template <class Convert> Schedule schedule(double start, const std::vector<Step>& steps, Convert convert) {
    Schedule result(convert(start));
    for (const auto& step : steps)
        result.then({step.at, convert(step.to), step.over});
    return result;
}

/// Lays the line, pipe by pipe from the source on, into `parts`, and adds what drives it to `drives`. Returns where the stages of a
/// first step stand; none: there are none.
std::optional<models::BetweenPoints> lay_line(const PartBuilder& builder, const models::Water& water,
                                              const Scenario& scenario, const Fineness& fineness,
                                              models::StationParts& parts, NamedDrives& drives);

} // namespace needleturn::scenarios
