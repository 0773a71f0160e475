/// One case of a sweep: from its number to its rows in the file of cases, and these as bytes of the journal.
#pragma once

#include "scenarios/study.h"
#include "sim/cases_file.h"
#include "tools/cases.h"
#include "tools/simulate.h"

#include <cstddef>
#include <string>
#include <vector>

namespace needleturn {

/// A study with what every case of it needs.
struct Sweep {
    scenarios::Study study;
    scenarios::Scenario base; ///< the scenario with the keys of case 0
    std::vector<sim::CasesColumn> per_case, per_event;
    std::size_t events = 0; ///< rows of a case in the columns per event
    std::string identity;   ///< the same for the same study, scenario, hardware and program
};

/// Reads a study and its scenario, and tries every varied key at both ends of its range, so that a slip in the study
/// is found before any time is spent. Throws scenarios::ScenarioError.
Sweep read_sweep(const std::filesystem::path& path);

/// The places along a varied key of a cube.
sim::Column axis_of(const scenarios::Factor& factor);

/// What the file of cases looks like.
sim::CasesLayout layout_of(const Sweep& sweep);

/// Runs case `number`. A case that cannot be read, started or finished is rows too: its `failure` says why, and what
/// was not reached is NaN.
///
/// `go_on` is asked now and then; when it says false the rows are not to be used.
sim::CaseRows run_case(const Sweep& sweep, Cases& cases, std::size_t number, const Progress& go_on);

/// All signals of a case that could be run.
sim::KeptSignals signals_of_case(const Sweep& sweep, Cases& cases, std::size_t number);

std::vector<std::byte> bytes_of(const sim::CaseRows& rows);
/// Throws std::runtime_error for bytes that are not rows of this sweep.
sim::CaseRows rows_from(const Sweep& sweep, const std::vector<std::byte>& bytes);

/// Which value of a row is column `name`: index into numbers or into words, depending on the kind of the column.
/// Throws std::out_of_range.
std::size_t place_of(const std::vector<sim::CasesColumn>& columns, const std::string& name);

} // namespace needleturn
