/// One case of a sweep: from its number to its rows in the file of cases, and these as bytes of the journal.
#pragma once

#include "models/station_parts.h"
#include "scenarios/read_scenario.h"
#include "scenarios/study.h"
#include "sim/cases_file.h"
#include "tools/studies/cases.h"
#include "tools/studies/metric.h"
#include "tools/studies/simulate.h"

#include <cstddef>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// A study with what every case of it needs.
struct Sweep {
    scenarios::Study study;
    scenarios::ScenarioFile file;  ///< of the scenario, as it was when the sweep began
    scenarios::Scenario base = {}; ///< the scenario with the keys of case 0, or of a family as it is stated
    std::vector<sim::CasesColumn> per_case = {}, per_event = {};
    std::size_t events = 0; ///< rows of a case in the columns per event
    std::vector<sim::CasesColumn> per_point = {};
    std::vector<std::string> points =
        {}; ///< rows of an event in the columns per point; none: the study asks for no surges
    std::vector<Metric> metrics = {}; ///< of the study's own: the last columns of per_case and per_event
    /// The same for the same study, scenario, hardware of all its cases and program.
    std::string identity = {};
    bool lanes =
        false; ///< no varied key by itself changes the form of the station (models/fields.h): cases are run in lanes
};

/// Reads a study and its scenario, and tries every varied key at both ends of its range, so that a slip in the study
/// is found before any time is spent. Throws scenarios::ScenarioError.
Sweep read_sweep(const std::filesystem::path& path);

/// The same of a study that is in no file: error texts call it `path`. `base` are the overrides of the scenario that stands for all.
Sweep sweep_of(scenarios::Study asked, scenarios::ScenarioFile file, const std::filesystem::path& path,
               const std::vector<scenarios::Override>& base);

/// What a run of the station records.
std::vector<Quantity> signals_of(const models::StationParts& parts);

/// The places along a varied key of a cube.
sim::Column axis_of(const scenarios::Factor& factor);

/// Runs case `number`. A case that cannot be read, started or finished is rows too: its `failure` says why, and what
/// was not reached is NaN.
///
/// `go_on` is asked now and then; when it says false the rows are not to be used.
sim::CaseRows run_case(const Sweep& sweep, Cases& cases, std::size_t number, const Progress& go_on);

/// Where the cases of one thread come from and go to.
struct CaseTraffic {
    std::function<std::optional<std::size_t>()> next; ///< number of the next case; none: there are no more
    std::function<bool(std::size_t, const sim::CaseRows&)> done; ///< false: no more, please
    std::function<bool()> go_on;                                 ///< asked now and then
};

/// Runs cases until there are no more or they are no longer wanted: in lanes where the sweep allows it, or one after the
/// other. The rows of a case depend on the case alone, not on the others nor on the machine; those of a case that was run in
/// a lane are those of run_case but for rounding. `lanes`: as for run_side_by_side.
void run_cases(const Sweep& sweep, Cases& cases, const CaseTraffic& traffic, std::size_t lanes = 0);

/// Runs every case on so many threads. `done` is called with one case after the other, never two at a time; false: no more, please.
/// `go_on` is asked now and then, from several threads.
void run_all_cases(const Sweep& sweep, std::size_t threads,
                   const std::function<bool(std::size_t, const sim::CaseRows&)>& done,
                   const std::function<bool()>& go_on);

/// The signals that the study keeps, by a run of the case alone; none where it cannot be read or started. With where the case lies:
/// its number, the varied keys with their values (SI), and the overrides that make it of the scenario, a line each. Cases that the
/// study names are run alone in the first place, so that the signals are of their row to the last bit.
std::optional<sim::KeptSignals> signals_of_case(const Sweep& sweep, Cases& cases, std::size_t number,
                                                const Progress& go_on);

std::vector<std::byte> bytes_of(const sim::CaseRows& rows);
/// Throws std::runtime_error for bytes that are not rows of this sweep.
sim::CaseRows rows_from(const Sweep& sweep, const std::vector<std::byte>& bytes);

/// Which value of a row is column `name`: index into numbers or into words, depending on the kind of the column.
/// Throws std::out_of_range.
std::size_t place_of(const std::vector<sim::CasesColumn>& columns, const std::string& name);

/// How a case ended; told in this order, whatever else is true of it.
enum class CaseEnd {
    failed, ///< could not be run to its end
    kept,   ///< keeps every limit
    broken, ///< breaks one
    undecided
};
inline CaseEnd case_end(bool failed, bool passed, bool breaks) {
    return failed ? CaseEnd::failed : passed ? CaseEnd::kept : breaks ? CaseEnd::broken : CaseEnd::undecided;
}
CaseEnd case_end(const Sweep& sweep, const sim::CaseRows& rows);

} // namespace needleturn
