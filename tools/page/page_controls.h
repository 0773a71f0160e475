/// A control for the page of the live bench (tools/rig/controls.js).
#pragma once

#include "scenarios/controls.h"
#include "tools/page/page_units.h"

#include <nlohmann/json.hpp>

namespace needleturn {

/// `low` and `high`: how far a hand can go, SI.
inline nlohmann::json page_control(const scenarios::PlacedControl& control, double low, double high) {
    const auto& entry = control.entry();
    return {{"name", control.name},
            {"kind", entry.key},
            {"label", entry.label},
            {"hint", entry.hint},
            {"unit", page_unit(entry.dimension)},
            {"stage", entry.of_stage() ? control.index : 0},
            {"low", low},
            {"high", high}};
}

} // namespace needleturn
