/// What a fit tells, as tables: for its file, and for the rig's page, which has no files.
#pragma once

#include "sim/cases_file.h"
#include "tools/studies/fit.h"

#include <cstdint>
#include <vector>

namespace needleturn {

/// fit, channel, trace_outlet and its like, hunting, cycle_outlet, mean_cycle_outlet and their like, correlation: told where write_fit is
/// (fit_file.h). `seed`: of the valves drawn.
std::vector<sim::NamedTable> fit_tables(const FitQuestion& question, const Fitted& fitted,
                                        std::uint64_t seed);

/// The events of a scenario, named in both systems of units.
sim::NamedTable told_events(const scenarios::Scenario& scenario);

/// What is told of each value, and a value so told.
std::vector<sim::CasesColumn> columns_of_values();
sim::CasesRow row_of(const Fitted::Value& value);

} // namespace needleturn
