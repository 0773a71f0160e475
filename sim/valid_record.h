/// What a record must be to be written as a results file.
#pragma once

#include "sim/recording.h"

#include <cstddef>
#include <variant>

namespace needleturn::sim {

/// The column of a pipe's envelope that is the dimension of the others.
inline constexpr const char* distance_name = "distance";

inline std::size_t rows_in(const Column& column) {
    return std::visit([](const auto& rows) { return rows.size(); }, column.rows);
}

/// Throws std::invalid_argument, which says what is wrong: signals or columns of unequal length, names that are empty, repeated or
/// hold a slash, a signal called `time`, texts holding a zero byte, a table without a column, a stride of 0.
void require_valid(const RunRecord& record, std::size_t stride);

} // namespace needleturn::sim
