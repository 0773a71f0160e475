/// Texts with quantities as pages are told them: in both systems of units, of which a page shows the one that is chosen
/// (tools/page/units.js: told).
#pragma once

#include "scenarios/in_both_systems.h"

#include <nlohmann/json.hpp>

#include <vector>

namespace needleturn {

/// A text that is the same in both is told once.
inline nlohmann::json page_text(const scenarios::InBothSystems& text) {
    if (text.si == text.us)
        return text.si;
    return {{"SI", text.si}, {"US", text.us}};
}

inline nlohmann::json page_texts(const std::vector<scenarios::InBothSystems>& texts) {
    auto told = nlohmann::json::array();
    for (const auto& text : texts)
        told.push_back(page_text(text));
    return told;
}

} // namespace needleturn
