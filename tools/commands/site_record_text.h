/// What was found and left on site, in words and in the rows of a sheet.
#pragma once

#include "scenarios/scenario.h"
#include "tools/page/sheet_page.h"
#include "tools/studies/simulate.h"

#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// What is recorded, what of it is missing, and how the station does with the settings recorded, each in a sentence; none without a
/// record. Runs the scenario once for each record that names a setting.
std::vector<std::string> record_sentences(const scenarios::Scenario& scenario, const Progress& progress);

/// None without a record.
std::optional<SheetRecordHeads> record_heads(const scenarios::Scenario& scenario);

/// What is recorded of one control or gauge, SI, and where it is to be left; nothing where that is not known.
struct RecordedValues {
    std::optional<double> found, left, wanted = {};
};

/// Those of a control of `scenario`, which is to be left at `leave`, SI. A record says where it was left; only without one is
/// `leave` told.
RecordedValues recorded_values(const scenarios::Scenario& scenario, const std::string& control, double leave);

/// Puts them into a row; `screw` as change_text has it.
void put_recorded(SheetEntry& entry, const RecordedValues& values, scenarios::Dimension dimension,
                  scenarios::UnitSystem units, bool screw = false);

/// Rows for what is recorded beyond screws, needles and the outlet gauge at rest. `wanted` is the station as it is to be left.
std::vector<SheetEntry> further_entries(const scenarios::Scenario& wanted);

/// "; set as found on 2026-03-01" where the scenario states what a record says; else empty.
std::string stands_as_text(const scenarios::Scenario& scenario);

/// "Set as found on 2026-03-01." of a scenario as a file of results holds it; empty where it states no record's settings, or was
/// written by a version that this one does not read.
std::string stood_as_text(const std::string& scenario);

} // namespace needleturn
