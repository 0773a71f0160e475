/// The table of units for pages (tools/page/units.js: knowUnits).
#pragma once

#include "scenarios/unit_table.h"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <string>
#include <string_view>

namespace needleturn {

/// What pages call the unit of a dimension.
inline std::string page_unit(scenarios::Dimension dimension) {
    return std::string(dimension == scenarios::Dimension::turns ? "turns" : scenarios::udunits(dimension));
}

/// `shown`: what a quantity is told in, by the spelling of its unit in results files, or by a name where that says too little;
/// of each system [unit, its size in SI, its zero in SI, decimals]. `spelt`: name in `shown`, by how resolved
/// scenarios spell a unit.
inline nlohmann::json page_units() {
    using namespace scenarios;
    const auto told = [](Dimension dimension, const Display& display, std::string_view per = "") {
        const auto units = all_units();
        const auto unit = std::ranges::find_if(units, [&](const Unit& each) {
            return each.dimension == dimension && each.spelling == display.unit;
        });
        return nlohmann::json{std::string(display.unit) + std::string(per), unit->factor / unit->divisor,
                              unit->offset, display.on_page()};
    };
    auto shown = nlohmann::json::object(), spelt = nlohmann::json::object();
    const auto add = [&](const std::string& name, Dimension dimension, const Displays& displays) {
        if (!shown.contains(name)) // a modulus is a pressure here
            shown[name] = {{"SI", told(dimension, displays[0])}, {"US", told(dimension, displays[1])}};
    };
    for (const auto& face : all_faces()) {
        add(page_unit(face.dimension), face.dimension, face.display);
        if (!face.si.empty() && !spelt.contains(face.si))
            spelt[std::string(face.si)] = page_unit(face.dimension);
    }
    // Volumes of at least one of these, as scenarios/units.cpp tells them.
    const Sight large_volume{"large volume", Dimension::volume, {{{"L", 2}, {"gal", 2}}}};
    for (const auto& sight : {distance, control_flow, percent, large_volume})
        add(std::string(sight.name), sight.dimension, sight.display);
    // How fast a pressure rises: a digit less.
    const auto& [si, us] = face_of(Dimension::pressure).display;
    shown["Pa s-1"] = {{"SI", told(Dimension::pressure, {si.unit, si.decimals - 1}, "/s")},
                       {"US", told(Dimension::pressure, {us.unit, us.decimals - 1}, "/s")}};
    return {{"shown", shown}, {"spelt", spelt}};
}

} // namespace needleturn
