/// Units as results files spell them (UDUNITS): "m3 s-1", "Pa".
#pragma once

#include "scenarios/units.h"

#include <optional>
#include <string_view>

namespace needleturn::scenarios {

/// The SI unit of a dimension; "1" for turns and ratios.
std::string_view udunits(Dimension dimension);

/// What is measured in such a unit; none for "1" and for what has no units of its own here. "Pa" is a pressure.
std::optional<Dimension> dimension_of_udunits(std::string_view unit);

} // namespace needleturn::scenarios
