#include "tools/studies/sustaining_analysis.h"

#include <algorithm>
#include <array>
#include <utility>

namespace needleturn {

std::vector<SustainingVerdict> sustaining_verdicts(const models::StationParts* parts,
                                                   const sim::Tracks& recording,
                                                   const sim::EventWindow& window, double interval) {
    std::vector<SustainingVerdict> verdicts;
    if (parts == nullptr)
        return verdicts;
    const auto settled = [&](const std::string& name) {
        return sim::settled_to(recording[name], interval, window);
    };
    for (const auto& stage : parts->stages) {
        if (!stage.sustaining)
            continue;
        const auto& between = stage.cocks.between;
        const auto pressure = [&](models::PointId at) { return parts->points[at].name + ".pressure"; };
        const auto inlet = stage.cocks.inlet ? stage.name + ".body_pressure"
                                             : pressure(between ? between->from : parts->inlet);
        const auto outlet = stage.cocks.outlet || stage.cocks.check
                                ? stage.name + ".valve_outlet_pressure"
                                : pressure(between ? between->to : parts->outlet);
        const auto own = stage.name + ".sustaining_lift", reducing = stage.name + ".pilot_lift",
                   tee = stage.name + ".tee_pressure", set = stage.name + ".sustaining_pressure";
        if (!std::ranges::all_of(std::array{inlet, outlet, own, reducing, tee, set},
                                 [&](const std::string& name) { return recording.has(name); }))
            continue;
        SustainingVerdict seen{.stage = stage.name,
                               .set = recording[set][window.end - 1],
                               .inlet = settled(inlet),
                               .outlet = settled(outlet)};
        seen.throttles =
            stage.sustains(settled(reducing), settled(own), seen.inlet, settled(tee), seen.outlet);
        verdicts.push_back(std::move(seen));
    }
    return verdicts;
}

} // namespace needleturn
