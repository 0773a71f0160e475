#include "tools/studies/sticking_stem.h"

#include "scenarios/connected.h"

#include <algorithm>
#include <utility>
#include <variant>

namespace needleturn {

std::vector<StickingStem> sticking_stems(const models::Station& station,
                                         const std::vector<scenarios::Stage>& stages) {
    std::vector<StickingStem> stems;
    const auto add = [&](const std::string& of, std::string name, const auto& part, std::size_t lift,
                         std::size_t travel) {
        const bool isolated = std::ranges::any_of(
            stages, [&](const scenarios::Stage& stage) { return stage.name == of && is_isolated(stage); });
        if (part.friction && !isolated)
            stems.push_back({std::move(name), lift, travel, part.full_lift, part.friction->presliding(),
                             part.friction->breakaway, part.friction->breakaway / part.diaphragm_area});
    };
    const auto& parts = station.parts();
    for (std::size_t i = 0; i < parts.stages.size(); ++i) {
        const auto& stage = parts.stages[i];
        const auto& at = station.stage(i);
        add(stage.name, stage.name, stage.valve, at.lift, at.presliding);
        add(stage.name, stage.name + " pilot", stage.pilot, at.pilot_lift, at.pilot_presliding);
    }
    for (std::size_t i = 0; i < parts.direct_stages.size(); ++i)
        add(parts.direct_stages[i].name, parts.direct_stages[i].name, parts.direct_stages[i].valve,
            station.direct_stage(i).lift, station.direct_stage(i).presliding);
    return stems;
}

scenarios::Scenario without_friction(scenarios::Scenario scenario) {
    for (auto& stage : scenario.stages)
        if (auto* valve = std::get_if<scenarios::PilotOperatedHardware>(&stage.hardware)) {
            valve->main_valve.stem_friction = 0;
            valve->pilot.stem_friction = 0;
        } else {
            std::get<scenarios::DirectActingHardware>(stage.hardware).stem_friction = 0;
        }
    return scenario;
}

} // namespace needleturn
