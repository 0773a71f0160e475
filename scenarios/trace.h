/// A trace: what gauges and meters have logged, as loggers write it.
///
/// A text of rows. Columns are apart by semicolons, tabs or commas, whichever the first rows have, in this order; in the first two
/// cases a comma in a number is its decimal point. One row at the top may name the columns, "outlet [bar]" or "outlet (bar)"; a
/// second one may hold the units alone. Times are numbers (s, or the unit in the header) or dates as ISO 8601 has them,
/// "2026-03-01T14:05:09.25" or with a space for the T; an offset from UTC or a Z behind it is allowed where every row has the same.
/// An empty cell, "-", "NaN", "NA" and "null" are readings that are missing. Pressures are gauge.
#pragma once

#include <array>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

/// What a column tells.
enum class Logged { outlet, inlet, cover, flow };
inline constexpr std::array logged_names{"outlet", "inlet", "cover", "flow"}; ///< in the order of Logged

struct Trace {
    struct Channel {
        Logged what = Logged::outlet;
        std::string column;         ///< its name, or number from 1 where columns have none
        std::vector<double> values; ///< SI, as many as `time`; NaN: missing
    };
    std::vector<double> time;      ///< s, rising; dates: since the first one
    std::optional<double> first;   ///< s since 1970 of the first row, of dates
    std::string date;              ///< of the first row as it is written; empty: times are no dates
    std::vector<Channel> channels; ///< one or more, in the order of Logged
    std::vector<std::string>
        notes; ///< what was done to the rows and what is odd about them, a sentence each, without full stop
    std::vector<std::size_t> lines; ///< of the rows in the text, from 1; of trace_as_written alone
};

/// Which column a channel is in, as typed: "outlet=P2 [bar]", "time=1"; the unit may be left out where the header has it. Without
/// any, columns are found by the words of their names.
using ChannelNames = std::vector<std::string>;

/// Reads and checks a trace; `name` stands for the file in error texts. Throws ScenarioError: no rows, a cell that is no number, a
/// unit that is none, no column for anything, a gauge that never moves, a gauge that stands at the end of its scale.
Trace parse_trace(std::string_view text, const std::string& name, const ChannelNames& asked = {});

/// The same of a file of at most 8 MB.
Trace read_trace(const std::filesystem::path& path, const ChannelNames& asked = {});

/// How error texts call the words of a ChannelNames, and what else is asked for.
struct TraceUse {
    std::string option = "--channel"; ///< or a key
    /// What a key asks for by the column's name alone; all other columns are passed over. Absent: none is.
    std::optional<Logged> only;
};

/// The rows in the order in which they are written, whatever they show: nothing is put in order, merged or refused but what cannot be
/// read at all.
Trace trace_as_written(std::string_view text, const std::string& name, const ChannelNames& asked,
                       const TraceUse& use);

} // namespace needleturn::scenarios
