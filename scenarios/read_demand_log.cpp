#include "scenarios/date.h"
#include "scenarios/demand_log.h"
#include "scenarios/table_reader.h"
#include "scenarios/trace.h"
#include "scenarios/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace needleturn::scenarios {

namespace {

/// "Z" or "+01:00" of a date as it is written; empty: it has none.
std::string offset_in(const std::string& date) {
    constexpr std::size_t behind_day = 11; // characters of "2026-03-01T"
    const auto begins = date.find_first_of("Z+-", std::min(behind_day, date.size()));
    return begins == std::string::npos ? "" : date.substr(begins);
}

/// The time in the trace, s, at which the run begins; `from` as typed.
double beginning(const Trace& trace, const std::string& from, const std::string& name) {
    if (from.empty())
        return trace.time.front();
    const auto fail = [&](std::string_view why) {
        raise(fmt::format("{}: from = \"{}\": {}", name, shortened(from), why));
    };
    if (trace.first) {
        constexpr std::size_t day = 10; // characters of "2026-03-01"
        for (const auto& date : {from, from + offset_in(trace.date), trace.date.substr(0, day) + "T" + from,
                                 trace.date.substr(0, day) + "T" + from + offset_in(trace.date)})
            if (const auto time = date_of(date); time && (offset_in(date) == offset_in(trace.date)))
                return *time - *trace.first;
        fail(fmt::format("the log has dates; write one, or a time of its first day: {}", trace.date));
    }
    if (date_of(from))
        fail("the log has no dates; write the time on its own clock, e.g. \"90 s\"");
    try {
        return parse_quantity(from, Dimension::time);
    } catch (const UnitError& error) {
        fail(error.what());
    }
    return 0;
}

} // namespace

DemandLog read_demand_log(std::string_view text, const std::string& name, const std::string& column,
                          const std::string& from) {
    ChannelNames asked;
    if (!column.empty())
        asked.push_back("flow=" + column);
    const auto trace = trace_as_written(text, name, asked, {.option = "column", .only = Logged::flow});
    const auto& flows = trace.channels.front();
    DemandLog log;
    const double begin = beginning(trace, from, name);
    for (std::size_t i = 0; i < trace.time.size(); ++i) {
        const auto place = fmt::format("{}:{}", name, trace.lines[i]);
        if (i > 0 && !(trace.time[i] > trace.time[i - 1]))
            raise(
                fmt::format("{}: its time is not later than that of the row before; times must rise", place));
        if (std::isnan(flows.values[i]))
            continue; // a reading that is missing: the straight line goes on
        if (flows.values[i] < 0 || flows.values[i] > 100)
            raise(fmt::format("{}: {}: {} is out of range; must be from 0 to 100 m3/s", place, flows.column,
                              format_quantity(flows.values[i], Dimension::flow, UnitSystem::si)));
        log.seconds.push_back(trace.time[i] - begin);
        log.flows.push_back(flows.values[i]);
    }
    if (log.seconds.size() < 2)
        raise(fmt::format("{}: column {}: {} readings; two or more are wanted", name, flows.column,
                          log.seconds.size()));
    return log;
}

} // namespace needleturn::scenarios
