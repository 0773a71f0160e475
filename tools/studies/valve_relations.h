/// The relations between what is measured at a valve and its hardware, with their equations (measured_hardware.h lists them).
#pragma once

#include "scenarios/measured.h"
#include "tools/studies/relations.h"

#include <vector>

namespace needleturn {

/// Adds what `measured` states beside the hardware to `facts`, which hold every number of the hardware by its key, and returns what
/// ties all of them together.
std::vector<Relation> valve_relations(const scenarios::MeasuredValve& measured, Facts& facts);

} // namespace needleturn
