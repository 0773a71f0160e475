/// A station as commissioning is to leave it: its settings, the flows to prove it at, the valve that is set first.
#pragma once

#include "scenarios/scenario.h"

#include <cstddef>

namespace needleturn {

/// The flows to prove a station at, m3/s.
struct ProofFlows {
    double low = 0, middle = 0, full = 0;
};

/// Lowest and highest flow of all outlets behind the station together (wanted_flows) that are not zero, and what lies between in
/// ratio. Throws std::invalid_argument where none ever flows.
ProofFlows proof_flows(const scenarios::Scenario& scenario);

/// Pa by which a turn of the adjusting screw of a stage changes its set pressure.
double per_turn(const scenarios::Stage& stage);

/// Pa by which a turn of a sustaining screw changes what it holds; of a stage with a pilot.
double sustaining_per_turn(const scenarios::Stage& stage);

/// Turns from slack at which the screw of a stage makes a set pressure, Pa, at the pressure that comes to it at the start.
double screw_turns(const scenarios::Scenario& scenario, const scenarios::Stage& stage, double set_pressure);

/// The scenario with its stages set as its adjustments leave them, and no adjustments.
scenarios::Scenario as_adjusted(scenarios::Scenario scenario);

/// Number of the stage that is commissioned first: the first with a pilot, a first step's aside. Throws std::invalid_argument if there is none.
std::size_t main_stage(const scenarios::Scenario& scenario);

} // namespace needleturn
