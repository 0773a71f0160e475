/// Scenarios and quantities as a person would write them, for files that people read and change. Nothing is rounded here: what
/// is read again is the same to the last bit. Who wants short numbers rounds first (rounded).
#pragma once

#include "scenarios/hardware_range.h"
#include "scenarios/scenario.h"
#include "scenarios/units.h"

#include <filesystem>
#include <span>
#include <string>

namespace needleturn::scenarios {

/// "8.2 bar", "120 psi", "40 m": in the unit of the system in which it is shortest, else in whichever unit has it short.
/// parse_quantity turns it back into the same double.
std::string written_quantity(double si, Dimension dimension, UnitSystem system);

/// "26..35 cm2", which parse_range_of turns back into the same ends.
std::string written_range(const HardwareRange& range, UnitSystem system);

/// The nearest value that a person would write: a pressure with the decimals of a gauge, others with four significant digits, in
/// the unit in which the system tells them.
double rounded(double si, Dimension dimension, UnitSystem system);

/// resolved(scenario) in the scenario's units; valves by their names, if those that are found in `hardware_folders` are the same
/// to the last bit, else with every value.
std::string written(const Scenario& scenario, std::span<const std::filesystem::path> hardware_folders);

} // namespace needleturn::scenarios
