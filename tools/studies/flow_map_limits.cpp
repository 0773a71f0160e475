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

namespace {

bool is_inside(const std::vector<FlowMap::HuntingBand>& hunting, double flow) {
    return std::ranges::any_of(hunting, [flow](const FlowMap::HuntingBand& band) {
        return flow >= band.from.flow && flow <= band.to.flow;
    });
}

} // namespace

FlowMap::Kind FlowMap::kind_at(const Point& point) const {
    if (!point.steady)
        return Kind::hunts_by_itself;
    return is_inside(hunting, point.flow) ? Kind::hunts_once_knocked : Kind::rests;
}

bool FlowMap::grows_unseen(const Point& point) const {
    return !point.steady && !is_inside(hunting, point.flow)
           && std::ranges::any_of(unsteady, [&](const Band& band) {
                  return point.flow >= band.from && point.flow <= band.to && band.knocks > 0
                         && band.unseen == band.knocks;
              });
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
