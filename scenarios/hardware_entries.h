/// Every key of a pilot-operated valve with its value, for those who go over all of them, and the valve as a hardware file.
#pragma once

#include "scenarios/hardware.h"

#include <functional>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

/// One number of a valve.
struct HardwareNumber {
    std::string key; ///< below the hardware: "main_valve.seat_area"
    Dimension dimension = Dimension::ratio;
    double* value = nullptr; ///< SI, in the hardware
};

/// All that the reader takes as a number, in its order.
std::vector<HardwareNumber> numbers_of(PilotOperatedHardware& hardware);

/// "12.3 Kv", "0.9": as many digits as are asked for, in the unit in which results are told.
std::string quantity_text(double si, Dimension dimension, UnitSystem units, int digits);

/// "11.2..13.4 Kv", the lower end rounded down and the upper one up.
std::string range_text(const HardwareRange& range, UnitSystem units, int digits);

/// A hardware file with this one valve, table [size], a plain key, and its ranges: what the reader gives back is the same within 1e-6. The
/// comment behind each number is `origin_of` its key, one line.
std::string hardware_file_text(const PilotOperatedHardware& hardware, const std::string& size,
                               UnitSystem units,
                               const std::function<std::string(const std::string& key)>& origin_of);

} // namespace needleturn::scenarios
