/// Sentences on what a run showed of the steps of a rehearsal; of several they are all turns of one screw.
#pragma once

#include "scenarios/units.h"
#include "tools/studies/rehearsal.h"

#include <span>
#include <string>

namespace needleturn {

inline constexpr double noticed = 0.05e5; ///< Pa: a division of a common gauge

/// "hunts 0.30 bar peak to peak at 0.5 Hz", or what becomes of a step that only rests; of one that hunts.
std::string step_hunting(const RehearsalStep& step, scenarios::UnitSystem units);

/// How long to wait until the outlet gauge is steady; another sentence where a stem sticks.
std::string wait_text(std::span<const RehearsalStep> steps, scenarios::UnitSystem units);

/// Where the outlet gauge goes beyond its readings before and after; empty: nowhere else.
std::string passing_text(std::span<const RehearsalStep> steps, scenarios::UnitSystem units);

/// Where the last turn of a screw is to arrive.
std::string aim_text(const Rehearsal& usual, std::span<const RehearsalStep> turns);

} // namespace needleturn
