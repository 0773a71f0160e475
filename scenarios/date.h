/// Dates as ISO 8601 writes them.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace needleturn::scenarios {

/// s since 1970-01-01 of a day with a time as it is written, "2026-03-01T14:05:09.25" or with a space for the T; none: it is no such
/// date.
std::optional<double> date_of(std::string_view text);

/// Is it a day, "2026-03-01", or a day with a time, as date_of reads it?
bool is_date(std::string_view text);

/// Does `date` lie before `other`? Both are dates; where one of them is a day alone, days are compared as they are written.
bool lies_before(std::string_view date, std::string_view other);

} // namespace needleturn::scenarios
