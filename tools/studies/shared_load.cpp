#include "tools/studies/shared_load.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

namespace needleturn {

std::vector<StageLoad> shared_load(const scenarios::Scenario& scenario, const sim::Tracks& recording,
                                   const sim::EventWindow& window) {
    if (std::ranges::count_if(scenario.stages, &scenarios::Stage::is_main) < 2)
        return {};
    const auto tenth = std::max<std::size_t>((window.end - window.start) / 10, 1);
    const auto last = window.end - tenth, before = std::max(window.start + tenth, last) - tenth;
    const auto mean = [&](const sim::Track& flow, std::size_t begin) {
        double sum = 0;
        for (std::size_t k = begin; k < begin + tenth; ++k)
            sum += flow[k];
        return sum / static_cast<double>(tenth);
    };
    std::vector<StageLoad> loads;
    for (const auto& stage : scenario.stages) {
        if (stage.first_step)
            continue;
        StageLoad load{stage.name, 0, 0};
        std::vector<std::string> parts{stage.name + ".flow"};
        if (stage.pilot_operated() != nullptr)
            parts.push_back(stage.name + ".restriction_flow");
        for (const auto& part : parts) {
            if (!recording.has(part))
                return {};
            const auto flow = recording[part];
            load.flow += mean(flow, last);
            load.before += mean(flow, before);
        }
        loads.push_back(std::move(load));
    }
    return loads;
}

bool still_shifting(const std::vector<StageLoad>& loads) {
    double all = 0, all_before = 0, shift = 0;
    for (const auto& load : loads) {
        all += load.flow;
        all_before += load.before;
        shift = std::max(shift, std::abs(load.flow - load.before));
    }
    constexpr double told = 0.01; // of the flow, in a tenth of the event
    return shift > told * all && std::abs(all - all_before) < 0.1 * shift;
}

} // namespace needleturn
