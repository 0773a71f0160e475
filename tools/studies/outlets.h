/// The outlets behind a station: which of them run, and how one flow is laid over them, the same way in every study.
///
/// An outlet is the demand at the far end or that of a branch. It runs if it ever flows in the scenario; the override
/// "running=laundry,rooms" (read_scenario.h) shuts all others. A study that wants one flow, and not the scenario's own schedule,
/// lays it over those that run, each with its share of what all of them want at their busiest; so at the moment when all are at
/// their busiest it asks of the station what the run does.
#pragma once

#include "scenarios/demands.h"
#include "scenarios/scenario.h"

#include <string>
#include <vector>

namespace needleturn {

struct PlacedOutlet {
    std::string name; ///< as scenarios::visit_outlets calls it
    double share = 0; ///< of a flow that is laid over all, [0, 1]; together 1; 0: it does not run
    double head = 0;  ///< Pa at the valve's outlet that lift water to it; below 0: it lies lower
};

/// In the order of scenarios::visit_outlets. Where none ever flows the one at the far end has all.
std::vector<PlacedOutlet> outlets_of(const scenarios::Scenario& scenario);

/// The shares of these alone.
std::vector<double> shares_of(const scenarios::Scenario& scenario);

/// visit(name, demand, share) for every outlet, `shares` in the order of scenarios::visit_outlets. S: Scenario, const or not.
template <class S, class Visit>
void visit_shares(S& scenario, const std::vector<double>& shares, const Visit& visit) {
    auto share = shares.begin();
    scenarios::visit_outlets(scenario,
                             [&](const std::string& name, auto& demand) { visit(name, demand, *share++); });
}

/// Shares of a flow that only the highest outlets draw: of those that run, or, where one that does not is higher still, that one.
/// With these open, and no lower one, a line without pressure stays full of water up to them.
std::vector<double> shares_at_the_top(const std::vector<PlacedOutlet>& outlets);

/// m3/s that all outlets together want at the start, and then each time a change of one is complete.
std::vector<double> wanted_flows(const scenarios::Scenario& scenario);

/// From now on the outlets together want `flow` (m3/s), by `shares` in the order of scenarios::visit_outlets, and consumers on the
/// inlet side what they want at the start.
void lay_flow(scenarios::Scenario& scenario, double flow, const std::vector<double>& shares);
/// The same by the shares of outlets_of.
void lay_flow(scenarios::Scenario& scenario, double flow);

/// m3 of the water in pipes that stands higher than the valve, each pipe taken to rise evenly: what drains behind it.
double standing_volume(const scenarios::Scenario& scenario);

/// Makes openings to the open air of outlets that draw a fixed flow, which would come through a shut cock as well: their flow is
/// then meant at what `outlet_pressure` (Pa) at the valve leaves of itself at their height, a tenth of it at least.
void as_outlets(scenarios::Scenario& scenario, double outlet_pressure);

} // namespace needleturn
