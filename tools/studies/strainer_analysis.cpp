#include "tools/studies/strainer_analysis.h"

#include <string>

namespace needleturn {

std::optional<StrainerVerdict> strainer_verdict(const models::StationParts* parts,
                                                const sim::Tracks& recording, const sim::EventWindow& window,
                                                double interval) {
    if (parts == nullptr || !parts->strainer)
        return {};
    const auto& strainer = *parts->strainer;
    const auto flow = strainer.name + ".flow", drop = strainer.name + ".drop";
    const auto behind = parts->points[strainer.between.to].name + ".pressure";
    for (const auto& name : {flow, drop, behind, strainer.drive()})
        if (!recording.has(name))
            return {};
    const auto settled = [&](const std::string& name) {
        return sim::settled_to(recording[name], interval, window);
    };
    StrainerVerdict verdict{.open = recording[strainer.drive()][window.end - 1],
                            .flow = settled(flow),
                            .drop = settled(drop),
                            .behind = settled(behind)};
    verdict.clean_drop = strainer.drop(1, verdict.flow);
    return verdict;
}

} // namespace needleturn
