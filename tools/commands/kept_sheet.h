/// Sheets that were made before, kept in the user's cache folder, so that `sheet` need not repeat what `rehearse` has just run.
///
/// A sheet is found by the SHA-256 of all that it follows from: every value of the scenario with its hardware and records, and the
/// bytes of the program. So nothing has to be cleared when one of them changes, and a sheet is never another scenario's.
#pragma once

#include "scenarios/scenario.h"

#include <cstddef>
#include <optional>
#include <string>

namespace needleturn {

/// A sheet of a rehearsal that came to its end.
struct KeptSheet {
    std::string text; ///< plain, of at most 78 columns
    std::string page; ///< HTML
    std::size_t steps = 0;
    bool accepted = false; ///< every stated limit is kept
};

/// None: none was kept, or what is kept is damaged.
std::optional<KeptSheet> kept_sheet(const scenarios::Scenario& scenario);

/// Keeps it in $XDG_CACHE_HOME/needleturn (~/.cache/needleturn), and of others there the newest. Where nothing can be kept, for want of
/// a place or of room, it does nothing: the next sheet then takes as long as this one.
void keep_sheet(const scenarios::Scenario& scenario, const KeptSheet& sheet);

} // namespace needleturn
