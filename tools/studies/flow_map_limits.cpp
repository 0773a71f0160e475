// What a flow map, once computed, says of its limits.

#include "tools/studies/flow_map.h"

#include <algorithm>
#include <limits>

namespace needleturn {

double FlowMap::minimum_continuous_flow() const {
    if (unsteady.empty())
        return points.front().flow;
    return unsteady.back().to_end ? std::numeric_limits<double>::infinity() : unsteady.back().to;
}

double FlowMap::minimum_flow_after_a_knock() const {
    const double steady = minimum_continuous_flow();
    if (hunting.empty())
        return steady;
    const auto& highest = hunting.back().to;
    return highest.of_sweep ? std::numeric_limits<double>::infinity()
                            : std::max(steady, highest.flow + highest.uncertainty);
}

double FlowMap::rangeability() const {
    return std::min(points.back().flow, wide_open) / minimum_flow_after_a_knock();
}

FlowMap::Kind FlowMap::kind_at(const Point& point) const {
    if (!point.steady)
        return Kind::hunts_by_itself;
    const bool inside = std::ranges::any_of(hunting, [&](const HuntingBand& band) {
        return point.flow >= band.from.flow && point.flow <= band.to.flow;
    });
    return inside ? Kind::hunts_once_knocked : Kind::rests;
}

double FlowMap::hunting_at(double flow) const {
    for (const auto& band : hunting) {
        if (flow < band.from.flow || flow > band.to.flow)
            continue;
        const auto next = std::ranges::lower_bound(band.points, flow, {}, &HuntingBand::Point::flow);
        if (next == band.points.begin() || next == band.points.end())
            return (next == band.points.begin() ? band.points.front() : band.points.back()).peak_to_peak;
        const auto& before = *(next - 1);
        const double share = (flow - before.flow) / (next->flow - before.flow);
        return before.peak_to_peak + share * (next->peak_to_peak - before.peak_to_peak);
    }
    return 0;
}

const FlowMap::Point* FlowMap::least_damped() const {
    const Point* least = nullptr;
    for (const auto& point : points)
        if (point.steady && (least == nullptr || point.worst.damping_ratio < least->worst.damping_ratio))
            least = &point;
    return least;
}

} // namespace needleturn
