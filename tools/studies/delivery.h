/// What reaches the outlets.
#pragma once

#include "scenarios/scenario.h"

#include <string>
#include <vector>

namespace needleturn {

/// From the start on nothing changes: the supply stands at its highest of the run, demands and stages as at the start, no air in the
/// covers.
void hold_still(scenarios::Scenario& scenario);

/// What one demand gets of what it wants, in the steady state of the station at its best: the supply at its highest, every
/// screw in, every cock open and every sustaining pilot backed off as far as they are in the run. m3/s.
struct Delivery {
    std::string demand; ///< as scenarios::visit_demands names it
    double wanted = 0;
    double delivered = 0;
    std::string
        held_back_by; ///< the stage whose sustaining pilot decides there what passes; empty: none does

    bool far_short() const; ///< scenarios::far_short
};

/// Every demand at the moments of the run at which most is wanted; no moment at which another wants all of that and more.
/// Where no steady state is found, none.
std::vector<Delivery> deliveries(const scenarios::Scenario& scenario);

} // namespace needleturn
