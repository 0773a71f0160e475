/// Tables as comma-separated values (RFC 4180, lines ended by a line feed alone): a header with names and units, a decimal point
/// whatever the machine's language, an empty cell for what is not known or does not apply.
#pragma once

#include "scenarios/units.h"
#include "sim/recording.h"

#include <optional>
#include <ostream>
#include <string>
#include <vector>

namespace needleturn {

/// Which units a table is written in.
struct ChosenUnits {
    std::optional<scenarios::UnitSystem> system; ///< none: as stored, SI in UDUNITS spelling
    std::vector<std::string> instead; ///< "kPa", "L/min": for whatever they measure, before all else
};

/// Throws scenarios::UnitError for a unit of `instead` that there is not.
void check_units(const ChosenUnits& units);

/// Writes the table; its columns are equally long. Numbers have ten digits.
void write_csv(std::ostream& out, const sim::Table& table, const ChosenUnits& units);

} // namespace needleturn
