/// Demands that are no steps of a hand: as a meter has logged them, or as people in a building open taps.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

/// A flow as a meter has logged it, in place of start and steps. In the file log = { file = "day.csv" }, a text of rows as trace.h
/// has it, looked for beside the scenario and then from the current folder on. Beside it column = "rooms [L/s]", its name or number;
/// default the first whose name holds "flow"; and from = "2026-03-01T06:30", "06:30", or "2 h" on a clock without dates: where in the
/// log the run begins; default its first row. Without a file the rows stand in the scenario itself:
/// log = { seconds = [0, 60, 120], flows = [0.4, 1.2, 0.9], unit = "L/s" }, and name = "day.csv" if wanted.
struct DemandLog {
    std::string name = "log";    ///< what texts call it: the file
    std::vector<double> seconds; ///< since the start of the run, rising, two or more; some lie within the run
    /// m3/s, [0, 100], as many. Straight lines between them: a held row would be a jump, a water hammer that nobody logged. Ahead of
    /// the first and behind the last they stay. What was quicker than the rows is not in them.
    std::vector<double> flows;

    bool operator==(const DemandLog&) const = default;
};

/// Taps of one kind that people open when they like. [[demand.draws]]
struct Draws {
    std::size_t taps = 1; ///< [1, 10000]; default 1
    double flow = 0;      ///< m3/s, required, (0, 100], of each draw
    double duration = 0;  ///< s, required, (0, 86400], of each draw
    double per_hour =
        0; ///< required, (0, 1e4], draws at each tap; a tap cannot be drawn from longer than always
    double within =
        0.5; ///< s, [0, 60], no longer than the draw, that a hand takes to open, and to shut; default 0.5
    std::optional<std::size_t> seed; ///< [1, 4096]; absent: 1

    bool operator==(const Draws&) const = default;
};

/// Rows of a log, and corners of draws, that a run may have in one demand.
inline constexpr std::size_t most_changes = 10'000;

/// The rows of a logger's text (trace.h), `name` in error texts. Throws ScenarioError, with the line where there is one: what
/// parse_trace says of rows, a time that does not rise, a flow below 0, fewer than two readings, a `from` that is no time of it.
DemandLog read_demand_log(std::string_view text, const std::string& name, const std::string& column,
                          const std::string& from);

/// m3/s per `unit`. Throws UnitError for what is no unit of flow.
double flow_unit(std::string_view unit);

/// The shortest numbers of a unit that are these flows again, times flow_unit; none: of some there is none.
std::optional<std::vector<double>> flows_in(std::string_view unit, const std::vector<double>& flows);

} // namespace needleturn::scenarios
