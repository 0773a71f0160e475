// Where a station may stand at rest while stems stick.
#include "sim/equilibrium.h"
#include "tools/studies/flow_map.h"

#include <algorithm>
#include <string>
#include <vector>

namespace needleturn {

namespace {

/// Names of the main valves whose stems stick, where there are several.
std::vector<std::string> mains_side_by_side(const scenarios::Scenario& scenario,
                                            const std::vector<StickingStem>& stems) {
    std::vector<std::string> mains;
    for (const auto& stage : scenario.stages)
        if (stage.is_main() && std::ranges::count(stems, stage.name, &StickingStem::name) > 0)
            mains.push_back(stage.name);
    return mains.size() > 1 ? mains : std::vector<std::string>{};
}

} // namespace

void SteadyStates::add_band(FlowMap::Point& point, const Eigen::VectorXd& y) const {
    const auto stems = sticking_stems(station_, scenario_.stages);
    // All stems held the same way move the outlet most. Of main valves side by side one held open while the others are held shut, or the
    // other way round, moves the outlet little, but changes most what each of them carries.
    auto against = mains_side_by_side(scenario_, stems);
    const bool shared = !against.empty();
    against.emplace_back(); // none against the others
    for (const auto& one : against)
        for (const double side : {-1.0, 1.0}) {
            Eigen::VectorXd end = y;
            for (const auto& stem : stems)
                end[static_cast<Eigen::Index>(stem.travel)] =
                    (stem.name == one ? -side : side) * stem.presliding;
            try {
                end = sim::find_equilibrium(system_, point.wanted, end);
            } catch (const sim::NoEquilibrium&) { // the band is at least what was found of it
                continue;
            }
            const auto there = carried(point.wanted, end);
            point.outlet_lowest = std::min(point.outlet_lowest, there.outlet_pressure);
            point.outlet_highest = std::max(point.outlet_highest, there.outlet_pressure);
            for (std::size_t i = 0; shared && i < there.stages.size(); ++i) {
                point.stages[i].least = std::min(point.stages[i].least, there.stages[i].flow);
                point.stages[i].most = std::max(point.stages[i].most, there.stages[i].flow);
            }
        }
}

} // namespace needleturn
