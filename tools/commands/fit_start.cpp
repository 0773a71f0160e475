#include "tools/commands/fit_start.h"

#include "scenarios/date.h"
#include "scenarios/table_reader.h"
#include "scenarios/units.h"

#include <fmt/format.h>

namespace needleturn {

double start_in_trace(const std::string& start, const scenarios::Trace& trace) {
    if (start.empty())
        return 0;
    const auto date = scenarios::date_of(start);
    if (date && trace.first)
        return *date - *trace.first;
    if (date || trace.first)
        scenarios::raise(fmt::format("--start {}: {}", start,
                                     date ? "the trace has no dates; write seconds of it, e.g. \"12.5 s\""
                                          : "the trace has dates; write one, e.g. 2026-03-01T14:05:09.25"));
    try {
        return scenarios::parse_quantity(start, scenarios::Dimension::time);
    } catch (const scenarios::UnitError& error) {
        scenarios::raise(fmt::format("--start {}: {}", start, error.what()));
    }
}

} // namespace needleturn
