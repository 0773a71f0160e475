/// Tables as pages are told them: the rows of each column under its name.
#pragma once

#include "sim/recording.h"

#include <nlohmann/json.hpp>

#include <vector>

namespace needleturn {

/// The values of a column of `table`, texts in both systems of units where they stand there (tools/results/told_texts.h).
nlohmann::json told_rows(const sim::Table& table, const sim::Column& column);

/// Whether the column tells another's texts in one system of units.
bool stands_beside(const sim::Column& column);

/// Tables by their names, each with its columns by theirs.
nlohmann::json told_tables(const std::vector<sim::NamedTable>& tables);

/// Of the traces of a fit leaves what is drawn: of many readings every n-th, and `every` of the channel says so. Throws what json throws
/// where one of the tables channel and trace_outlet or its like is missing.
void thin_traces(nlohmann::json& tables);

} // namespace needleturn
