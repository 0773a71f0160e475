/// What the sheet says, whatever it is printed on: cautions, station, settings and readings.
#pragma once

#include "tools/commands/rehearse.h"

#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace needleturn {

/// Common practice of the trade, no source; what binds is what the last one says.
std::span<const std::string_view> cautions();

/// A line of the table of settings and readings.
struct Entry {
    std::string item, start, leave;
};

/// `scenario` as its adjustments leave it.
std::vector<Entry> entries(const scenarios::Scenario& scenario, const Lesson& lesson);

/// "Supply", "7.50 bar": what the station is.
std::vector<std::pair<std::string, std::string>> station_data(const scenarios::Scenario& scenario);

/// Whether the rehearsal keeps every limit, in a sentence.
std::string outcome_text(const Lesson& lesson);

} // namespace needleturn
