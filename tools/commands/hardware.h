/// needleturn hardware: from a catalogue, a tape and a stopwatch to a hardware file.
#pragma once

#include "tools/commands/options.h"
#include "tools/studies/measured_hardware.h"
#include "tools/studies/next_measurement.h"

#include <functional>
#include <string>
#include <vector>

namespace needleturn {

/// Adds the subcommand; see add_run.
void add_hardware(Command program, std::function<int()>& action);

/// Where a value comes from: "generic DN65, judgement", "measured: capacity", "follows from closing 1 (1, 7, 7a, 12)".
std::string origin_text(const DerivedValue& value, const std::string& size);

/// The print-out: every value with its range and origin, contradictions, what remains unknown and what would narrow it.
std::string measured_text(const scenarios::MeasuredValve& measured, const DerivedHardware& derived,
                          const std::vector<NextMeasurement>& next);

} // namespace needleturn
