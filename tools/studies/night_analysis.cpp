#include "tools/studies/night_analysis.h"

#include <algorithm>
#include <array>

namespace needleturn {

std::vector<NightVerdict> night_verdicts(const models::StationParts* parts, const sim::Tracks& recording,
                                         const sim::EventWindow& window) {
    std::vector<NightVerdict> verdicts;
    if (parts == nullptr)
        return verdicts;
    const auto last = window.end - 1;
    for (const auto& stage : parts->stages) {
        const auto signal = [&](const char* of) { return stage.name + of; };
        if (!stage.night
            || !std::ranges::all_of(std::array{".setting", ".set_pressure", ".flow", ".restriction_flow"},
                                    [&](const char* of) { return recording.has(signal(of)); }))
            continue;
        const auto end = [&](const char* of) { return recording[signal(of)][last]; };
        const double set = end(".set_pressure"), setting = end(".setting"),
                     share = stage.night->day_share(end(".flow") + end(".restriction_flow"));
        verdicts.push_back({.stage = stage.name,
                            .setting = setting,
                            .goes_to = set - stage.night->eased(share, set),
                            .above_night = setting - (set - stage.night->eased(0.0, set)),
                            .below_day = set - setting});
    }
    return verdicts;
}

} // namespace needleturn
