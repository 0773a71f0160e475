#include "tools/studies/surge_bound.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>

namespace needleturn {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// Pa: equation (38) in the pipe where it is largest. Waves below 1 bar overshoot by a larger part of themselves
/// (models/upwind.h), up to twice.
double bound_of(const SurgeStart& start, const std::vector<scenarios::PipeGrid>& grids) {
    double share = 0;
    for (const auto& grid : grids)
        share = std::max(share, grid.height_error(start.duration));
    constexpr double full = 1e5;
    const double change = start.bound == SurgeStart::Bound::source ? start.sudden_change : start.joukowsky;
    const double wave = std::isnan(change) ? 0 : std::abs(change);
    return share * std::max(wave, std::min(2 * wave, full));
}

} // namespace

bool parts(const SurgeVerdict& surge) {
    return !surge.cavities.empty()
           || std::ranges::any_of(surge.points, [](const PointSurge& point) { return point.cavity > 0; });
}

void bound_heights(std::vector<SurgeVerdict>& surges, const std::vector<EventVerdict>& verdict,
                   const std::vector<scenarios::PipeGrid>& grids) {
    for (std::size_t i = 0; i < surges.size(); ++i) {
        auto& surge = surges[i];
        const double bound = parts(surge) ? none : bound_of(surge.start, grids);
        const bool oscillates = verdict[i].hunting.kind != sim::Hunting::Kind::none;
        const double waves_end =
            surge.start.duration + 4 * surge.start.round_trip; // NaN: no change, no waves
        for (auto& point : surge.points) {
            point.highest_spread = oscillates && !(point.highest_at <= waves_end) ? none : bound;
            point.lowest_spread = oscillates && !(point.lowest_at <= waves_end) ? none : bound;
        }
    }
}

} // namespace needleturn
