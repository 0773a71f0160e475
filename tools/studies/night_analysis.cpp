#include "tools/studies/night_analysis.h"

#include <algorithm>
#include <cstddef>

namespace needleturn {

std::vector<NightVerdict> night_verdicts(const models::StationParts* parts, const sim::Tracks& recording,
                                         const sim::EventWindow& window) {
    std::vector<NightVerdict> verdicts;
    if (parts == nullptr)
        return verdicts;
    const auto last = window.end - 1;
    const auto tenth = std::max<std::size_t>((window.end - window.start) / 10, 1);
    for (const auto& stage : parts->stages) {
        const auto setting = stage.name + ".setting", share = stage.name + ".day_share";
        if (!stage.night || !recording.has(setting) || !recording.has(share))
            continue;
        const auto place = recording[share];
        verdicts.push_back({.stage = stage.name,
                            .setting = recording[setting][last],
                            .day_share = place[last],
                            .moved = place[last] - place[last - tenth]});
    }
    return verdicts;
}

} // namespace needleturn
