/// Columns of texts with quantities: as the scenario's units have it, and beside that, under NAME.si and NAME.us, in each system
/// of units, so that a page can show either.
#pragma once

#include "scenarios/in_both_systems.h"
#include "sim/recording.h"

#include <string>
#include <vector>

namespace needleturn {

/// The names that follow NAME.
inline constexpr const char* in_si = ".si";
inline constexpr const char* in_us = ".us";

/// NAME.si and NAME.us; `meaning` is that of the column NAME.
void add_in_both_systems(sim::Table& table, const std::string& name, const std::string& meaning,
                         const std::vector<scenarios::InBothSystems>& texts);

/// The texts of the column NAME; of a table without the other two, what that says, twice. None: there is no such column.
std::vector<scenarios::InBothSystems> texts_of(const sim::Table& table, const std::string& name);

} // namespace needleturn
