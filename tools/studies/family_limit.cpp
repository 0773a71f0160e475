#include "tools/studies/family_limit.h"

#include "sim/equilibrium.h"
#include "sim/share.h"
#include "tools/studies/crew.h"
#include "tools/studies/sticking_stem.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <mutex>
#include <optional>

namespace needleturn {

namespace {

FlowMap map_of(const scenarios::Scenario& valve, const FlowSweep& sweep) {
    return flow_map(without_friction(valve), sweep);
}

double limit_of(const FlowMap& map) {
    // The lowest flow of the range is no limit of the valve.
    return map.unsteady.empty() ? 0 : map.minimum_continuous_flow();
}

} // namespace

FamilyLimit family_limit(const FamilyQuestion& question, const FlowSweep& sweep, unsigned threads,
                         const std::function<bool()>& go_on,
                         const std::function<void(const FlowMap& map)>& seen) {
    const auto family = family_sweep(question);
    // As close as 60 over the usual three decades, as limit_range; the limits themselves are refined by flow_map.
    constexpr double fewest = 6, per_decade = 20;
    const auto points = static_cast<std::size_t>(
        std::max(fewest, std::ceil(per_decade * std::log10(sweep.high / sweep.low))));
    const FlowSweep coarse{.low = sweep.low, .high = sweep.high, .points = points};
    FamilyLimit limit;
    limit.stated = limit_of(map_of(family.base, coarse));
    limit.by_valve.assign(question.valves, std::numeric_limits<double>::infinity());
    std::mutex one_at_a_time;
    share_out(question.valves, threads, [&] {
        return [&, cases = Cases(family.study)](std::size_t i) mutable {
            std::optional<FlowMap> map;
            try {
                map = map_of(family.file.read(cases.overrides(i)), coarse);
                limit.by_valve[i] = limit_of(*map);
            } catch (const sim::NoEquilibrium&) { // steady nowhere, as far as is known
            }
            const std::scoped_lock lock(one_at_a_time);
            if (seen && map)
                seen(*map);
            return go_on();
        };
    });

    auto sorted = limit.by_valve;
    std::ranges::sort(sorted);
    const auto rank = [&](double share) {
        return sorted[static_cast<std::size_t>(std::ceil(share * static_cast<double>(sorted.size()))) - 1];
    };
    constexpr double half = 0.5, most = 0.95;
    limit.half = rank(half);
    limit.of_95 = rank(most);
    const auto above = sim::draw_above(sorted.size(), most, most);
    limit.of_95_of_all = above > 0 ? sorted[above - 1] : std::numeric_limits<double>::quiet_NaN();
    Cases cases(family.study);
    std::vector<std::vector<double>> places(family.study.vary.size());
    for (std::size_t valve = 0; valve < question.valves; ++valve) {
        const auto where = cases.places(valve);
        for (std::size_t key = 0; key < where.size(); ++key)
            places[key].push_back(where[key].number);
    }
    limit.inputs = rank_inputs(family.study, places, limit.by_valve);
    return limit;
}

} // namespace needleturn
