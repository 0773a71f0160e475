/// The rows of a logger's text, before anything is made of them.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

struct TraceRow {
    std::size_t line = 0;           ///< in the text, from 1
    std::vector<std::string> cells; ///< one per column, without spaces and quotes around
};

/// "outlet [bar]" or "outlet (bar)".
struct NamedColumn {
    std::string name; ///< its number from 1 where there is no header
    std::string unit; ///< empty: none is told
};

struct TraceRows {
    std::string source; ///< of error texts
    char separator = ',';
    std::vector<NamedColumn> names; ///< of all columns
    std::vector<TraceRow> rows;     ///< one or more
    std::vector<std::string> notes; ///< as of Trace
};

/// Throws ScenarioError.
TraceRows rows_of_trace(std::string_view text, const std::string& source);

NamedColumn split_unit(std::string_view text);

bool is_missing(std::string_view cell);

/// The number in a cell, finite; none: it holds something else.
std::optional<double> number_of(std::string cell);

} // namespace needleturn::scenarios
