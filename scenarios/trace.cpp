#include "scenarios/trace.h"

#include "scenarios/date.h"
#include "scenarios/spelling.h"
#include "scenarios/table_reader.h"
#include "scenarios/text_file.h"
#include "scenarios/trace_rows.h"
#include "scenarios/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <iterator>
#include <limits>
#include <map>
#include <numeric>
#include <system_error>
#include <utility>

namespace needleturn::scenarios {

namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

Dimension dimension_of(Logged what) { return what == Logged::flow ? Dimension::flow : Dimension::pressure; }

/// SI per unit. Throws UnitError for what is no such unit.
double size_of(std::string_view unit, Dimension dimension) {
    return parse_quantity(fmt::format("1 {}", unit), dimension);
}

std::string lower(std::string_view text) {
    std::string small(text);
    for (auto& c : small)
        if (c >= 'A' && c <= 'Z')
            c = static_cast<char>(c - 'A' + 'a');
    return small;
}

/// Where time and channels are: columns, from 0, and units.
struct Found {
    std::size_t time = 0;
    std::string time_unit = "s";
    struct Column {
        std::size_t at = 0;
        std::string unit;
    };
    std::map<Logged, Column> of;
};

/// How a column is asked for: --channel "flow=P2 [bar]", or of a key column = "P2 [bar]".
std::string asking(const TraceUse& use, Logged what, const std::string& column) {
    return use.only ? fmt::format("{} = \"{}\"", use.option, column)
                    : fmt::format("{} \"{}={}\"", use.option, logged_names[static_cast<std::size_t>(what)],
                                  column);
}

/// The column that is called or numbered `text`.
std::size_t column_called(const TraceRows& rows, const std::string& asked, std::string_view text,
                          const TraceUse& use) {
    for (std::size_t i = 0; i < rows.names.size(); ++i)
        if (rows.names[i].name == text)
            return i;
    std::size_t number = 0;
    for (const char c : text)
        number =
            c >= '0' && c <= '9' && number < 1000 ? 10 * number + static_cast<std::size_t>(c - '0') : 9999;
    if (!text.empty() && number >= 1 && number <= rows.names.size())
        return number - 1;
    std::vector<std::string> names;
    for (const auto& column : rows.names)
        names.push_back(column.name);
    raise(fmt::format("{}: no such column in {}; there are {}",
                      use.only ? asking(use, *use.only, std::string(text)) : use.option + " " + asked,
                      rows.source, fmt::join(names, ", ")));
}

/// Takes what "outlet=P2 [bar]" says.
void take_asked(const TraceRows& rows, const std::string& asked, const TraceUse& use, Found& found) {
    const auto equals = asked.find('=');
    const auto what = trimmed(std::string_view(asked).substr(0, equals));
    const auto* const known = std::ranges::find(logged_names, what);
    if (equals == std::string::npos || (known == logged_names.end() && what != "time"))
        raise(fmt::format("{} {}: write outlet=COLUMN; instead of outlet also inlet, cover, flow or time",
                          use.option, asked));
    const auto told = split_unit(trimmed(std::string_view(asked).substr(equals + 1)));
    const auto at = column_called(rows, asked, told.name, use);
    const auto& unit = told.unit.empty() ? rows.names[at].unit : told.unit;
    if (what == "time") {
        found.time = at;
        found.time_unit = unit.empty() ? "s" : unit;
    } else {
        found.of[static_cast<Logged>(known - logged_names.begin())] = {at, unit};
    }
}

/// Finds columns by the words of their names; the first that fits serves.
void find_by_names(const TraceRows& rows, Found& found) {
    constexpr std::array<std::pair<const char*, Logged>, 6> words{{{"outlet", Logged::outlet},
                                                                   {"downstream", Logged::outlet},
                                                                   {"inlet", Logged::inlet},
                                                                   {"upstream", Logged::inlet},
                                                                   {"cover", Logged::cover},
                                                                   {"flow", Logged::flow}}};
    for (std::size_t i = 0; i < rows.names.size(); ++i) {
        const auto name = lower(rows.names[i].name);
        if (i != found.time)
            for (const auto& [word, what] : words)
                if (name.find(word) != std::string::npos) {
                    found.of.insert({what, {i, rows.names[i].unit}});
                    break;
                }
    }
}

Found find_columns(const TraceRows& rows, const ChannelNames& asked, const TraceUse& use) {
    Found found;
    for (std::size_t i = 0; i < rows.names.size(); ++i) {
        const auto name = lower(rows.names[i].name);
        if (name == "t" || name.find("time") != std::string::npos || name.find("date") != std::string::npos) {
            found.time = i;
            if (!rows.names[i].unit.empty())
                found.time_unit = rows.names[i].unit;
            break;
        }
    }
    for (const auto& text : asked)
        take_asked(rows, text, use, found);
    if (found.of.empty())
        find_by_names(rows, found);
    if (use.only)
        std::erase_if(found.of, [&](const auto& column) { return column.first != *use.only; });
    const auto second = rows.names.size() > 1 ? rows.names[1].name : std::string("2");
    if (found.of.empty() && use.only)
        raise(fmt::format("{}: no column is called {}; name one: {}", rows.source,
                          logged_names[static_cast<std::size_t>(*use.only)], asking(use, *use.only, second)));
    if (found.of.empty())
        raise(fmt::format("{}: no column is called outlet, inlet, cover or flow; name one: {}", rows.source,
                          asking(use, Logged::outlet, second + " [bar]")));
    return found;
}

/// The times of all rows, s: as they are written, or since the first date, which `trace` is told.
std::vector<double> times_of(const TraceRows& rows, const Found& found, Trace& trace) {
    std::vector<double> times;
    const bool dated = date_of(rows.rows.front().cells[found.time]).has_value();
    const auto place = [&](const TraceRow& row) {
        return fmt::format("{}:{}: {} = \"{}\"", rows.source, row.line, rows.names[found.time].name,
                           row.cells[found.time]);
    };
    double second = 1;
    try {
        second = dated ? 1 : size_of(found.time_unit, Dimension::time);
    } catch (const UnitError& error) {
        raise(fmt::format("{}: column {}: {}", rows.source, rows.names[found.time].name, error.what()));
    }
    for (const auto& row : rows.rows) {
        const auto time = dated ? date_of(row.cells[found.time]) : number_of(row.cells[found.time]);
        if (!time)
            raise(fmt::format("{}: a time is wanted, as {}", place(row),
                              dated ? "the dates above it are written"
                                    : "a number or as 2026-03-01T14:05:09.25"));
        times.push_back(*time * second);
    }
    if (dated) {
        const auto first = std::ranges::min_element(times);
        trace.first = *first;
        trace.date = rows.rows[static_cast<std::size_t>(first - times.begin())].cells[found.time];
        for (auto& time : times)
            time -= *trace.first;
    }
    return times;
}

Trace::Channel channel_of(const TraceRows& rows, Logged what, const Found::Column& column,
                          const TraceUse& use) {
    const auto& name = rows.names[column.at].name;
    const auto place = fmt::format("{}: column {}", rows.source, name);
    if (column.unit.empty()) {
        const auto with_unit = fmt::format("{} [{}]", name, allowed_units(dimension_of(what)).front());
        raise(fmt::format("{}: its unit is missing; write it into the header, {}, or {}", place, with_unit,
                          asking(use, what, with_unit)));
    }
    Trace::Channel channel{what, name, {}};
    double unit = 0;
    try {
        // Loggers write metres of water as m.
        unit = size_of(what != Logged::flow && column.unit == "m" ? "mH2O" : column.unit, dimension_of(what));
    } catch (const UnitError& error) {
        raise(fmt::format("{}: {}", place, error.what()));
    }
    for (const auto& row : rows.rows) {
        const auto& cell = row.cells[column.at];
        const auto number = is_missing(cell) ? missing : number_of(cell);
        if (!number)
            raise(fmt::format("{}:{}: {} = \"{}\": a number is wanted", rows.source, row.line, name, cell));
        channel.values.push_back(*number * unit);
    }
    return channel;
}

template <class T> void reorder(std::vector<T>& values, const std::vector<std::size_t>& order) {
    std::vector<T> sorted;
    for (const auto i : order)
        sorted.push_back(values[i]);
    values = std::move(sorted);
}

void put_in_order(Trace& trace) {
    const auto falls = [](double a, double b) { return b < a; };
    std::size_t back = 0;
    for (std::size_t i = 1; i < trace.time.size(); ++i)
        back += falls(trace.time[i - 1], trace.time[i]) ? 1 : 0;
    if (back == 0)
        return;
    std::vector<std::size_t> order(trace.time.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, {}, [&](std::size_t i) { return trace.time[i]; });
    reorder(trace.time, order);
    for (auto& channel : trace.channels)
        reorder(channel.values, order);
    trace.notes.push_back(
        fmt::format("time goes back at {} {}: the rows were put in order", back, back == 1 ? "row" : "rows"));
}

/// Of rows with one time, one row with the mean of their readings.
void merge_duplicates(Trace& trace) {
    std::vector<std::size_t> begins;
    for (std::size_t i = 0; i < trace.time.size(); ++i)
        if (i == 0 || trace.time[i] > trace.time[i - 1])
            begins.push_back(i);
    const auto more = trace.time.size() - begins.size();
    if (more == 0)
        return;
    begins.push_back(trace.time.size());
    for (auto& channel : trace.channels) {
        std::vector<double> merged;
        for (std::size_t k = 0; k + 1 < begins.size(); ++k) {
            double sum = 0, count = 0;
            for (auto i = begins[k]; i < begins[k + 1]; ++i)
                if (!std::isnan(channel.values[i])) {
                    sum += channel.values[i];
                    ++count;
                }
            merged.push_back(count > 0 ? sum / count : missing);
        }
        channel.values = std::move(merged);
    }
    begins.pop_back();
    reorder(trace.time, begins);
    trace.notes.push_back(fmt::format("{} {} a time that is there already: such rows were averaged", more,
                                      more == 1 ? "row has" : "rows have"));
}

void tell_gaps(Trace& trace) {
    std::vector<double> steps;
    for (std::size_t i = 1; i < trace.time.size(); ++i)
        steps.push_back(trace.time[i] - trace.time[i - 1]);
    auto sorted = steps;
    const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
    std::ranges::nth_element(sorted, middle);
    constexpr double gap = 3; // usual intervals: two lost rows in a row
    const auto gaps = std::ranges::count_if(steps, [&](double step) { return step > gap * *middle; });
    if (gaps > 0)
        trace.notes.push_back(fmt::format("{} {} without rows, the longest {:.3g} s; rows are {:.3g} s apart",
                                          gaps, gaps == 1 ? "gap" : "gaps", std::ranges::max(steps),
                                          *middle));
    for (const auto& channel : trace.channels)
        if (const auto lost = std::ranges::count_if(channel.values, [](double x) { return std::isnan(x); });
            lost > 0)
            trace.notes.push_back(fmt::format("{} of {} readings of {} are missing", lost,
                                              channel.values.size(), channel.column));
}

/// A gauge beyond the end of its scale shows the same again and again there while elsewhere its readings flicker.
bool is_clipped(const std::vector<double>& read, double end) {
    constexpr std::size_t long_run = 5;
    constexpr double few =
        0.2; // of pairs of neighbours that are equal, elsewhere: not a coarse gauge at rest
    std::size_t run = 0, longest = 0, equal = 0, others = 0;
    for (std::size_t i = 0; i < read.size(); ++i) {
        run = read[i] == end ? run + 1 : 0;
        longest = std::max(longest, run);
        if (i > 0 && read[i] != end && read[i - 1] != end) {
            ++others;
            equal += read[i] == read[i - 1] ? 1 : 0;
        }
    }
    return longest >= long_run && others >= long_run
           && static_cast<double>(equal) < few * static_cast<double>(others);
}

void require_readings(const Trace& trace, const std::string& source) {
    constexpr std::size_t fewest = 10;
    for (const auto& channel : trace.channels) {
        const auto place = fmt::format("{}: column {}", source, channel.column);
        std::vector<double> read;
        std::ranges::copy_if(channel.values, std::back_inserter(read),
                             [](double x) { return !std::isnan(x); });
        if (read.size() < fewest)
            raise(fmt::format("{}: {} readings; {} or more are wanted", place, read.size(), fewest));
        const auto [low, high] = std::ranges::minmax(read);
        const auto shown = [&](double si) {
            return format_quantity(si, dimension_of(channel.what), UnitSystem::si);
        };
        if (low == high)
            raise(fmt::format("{}: every reading is {}: a gauge that never moves tells nothing", place,
                              shown(low)));
        for (const double end : {low, high})
            if (is_clipped(read, end))
                raise(fmt::format(
                    "{}: stands at {} again and again while its other readings flicker: the gauge is at "
                    "the end of its scale there; leave these rows out",
                    place, shown(end)));
    }
}

} // namespace

Trace trace_as_written(std::string_view text, const std::string& name, const ChannelNames& asked,
                       const TraceUse& use) {
    const auto rows = rows_of_trace(text, name);
    const auto found = find_columns(rows, asked, use);
    Trace trace;
    trace.notes = rows.notes;
    trace.time = times_of(rows, found, trace);
    for (const auto& [what, column] : found.of)
        trace.channels.push_back(channel_of(rows, what, column, use));
    for (const auto& row : rows.rows)
        trace.lines.push_back(row.line);
    return trace;
}

Trace parse_trace(std::string_view text, const std::string& name, const ChannelNames& asked) {
    auto trace = trace_as_written(text, name, asked, {});
    trace.lines.clear();
    put_in_order(trace);
    merge_duplicates(trace);
    if (trace.time.size() < 2)
        raise(fmt::format("{}: every row has the same time", name));
    require_readings(trace, name);
    tell_gaps(trace);
    return trace;
}

Trace read_trace(const std::filesystem::path& path, const ChannelNames& asked) {
    constexpr std::uintmax_t largest = std::uintmax_t{8} << 20;
    std::error_code unknown; // read_text_file says what is wrong with a file that has no size
    if (std::filesystem::is_regular_file(path, unknown)
        && std::filesystem::file_size(path, unknown) > largest)
        raise(fmt::format(
            "{}: is larger than 8 MB, the most that is read (some 300 000 rows): cut out the time around "
            "what was done",
            path.string()));
    return parse_trace(read_text_file(path), path.string(), asked);
}

} // namespace needleturn::scenarios
