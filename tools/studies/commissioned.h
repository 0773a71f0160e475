/// A station as commissioning is to leave it: its settings, the flows to prove it at, the valve that is set first.
#pragma once

#include "scenarios/scenario.h"

#include <array>
#include <cstddef>
#include <string>
#include <vector>

namespace needleturn {

/// The flows to prove a station at, m3/s.
struct ProofFlows {
    double low = 0, middle = 0, full = 0;
};

/// Lowest and highest flow of all outlets behind the station together (wanted_flows) that are not zero, and what lies between in
/// ratio. Throws std::invalid_argument where none ever flows.
ProofFlows proof_flows(const scenarios::Scenario& scenario);

/// Screws and needles: what a station is set with and left at, and what of its record counts once it is drained and filled again.
inline constexpr std::array screws_and_needles{
    scenarios::Control::set_pressure, scenarios::Control::sustaining_pressure,
    scenarios::Control::opening_control, scenarios::Control::closing_control};

/// Pa by which a turn of the adjusting screw of a stage changes its set pressure.
double per_turn(const scenarios::Stage& stage);

/// Pa by which a turn of a sustaining screw changes what it holds; of a stage with a pilot.
double sustaining_per_turn(const scenarios::Stage& stage);

/// Pa that the screw of the main valve makes `seconds` after a hand has begun to spin it from where it was backed off to.
double spun_pressure(const scenarios::Scenario& scenario, double seconds);

/// s, the longest that an outlet of the scenario takes for one of its own changes; 0: none changes.
double longest_change(const scenarios::Scenario& scenario);

/// Turns from slack at which the screw of a stage makes a set pressure, Pa, at the pressure that comes to it at the start.
double screw_turns(const scenarios::Scenario& scenario, const scenarios::Stage& stage, double set_pressure);

/// The scenario with its screws and needles set as its adjustments leave them, and no adjustments.
scenarios::Scenario as_adjusted(scenarios::Scenario scenario);

/// Number of the stage that is commissioned first: the first with a pilot, a first step's aside. Throws std::invalid_argument if there is none.
std::size_t main_stage(const scenarios::Scenario& scenario);

/// Numbers of the main valves side by side: main_stage first, then the others with a pilot, the highest set pressure first. Throws as
/// main_stage.
std::vector<std::size_t> main_stages(const scenarios::Scenario& scenario);

/// Numbers of all stages in the order in which they are set, a first step's aside: each main valve by itself, then the others, the
/// highest set pressure first. Common practice, no source. Throws as main_stage.
std::vector<std::size_t> order_of_setting(const scenarios::Scenario& scenario);

/// m3/s at which main valve `i` is set by itself: of `full` what falls to it by its capacity, so that its gauge then reads what the
/// station reads at full flow.
double flow_to_set_at(const scenarios::Scenario& scenario, std::size_t i, double full);

/// The stage whose cover gauge is read while stage `i` is worked on: itself where it has a cover, else the main valve.
std::size_t cover_read(const scenarios::Scenario& scenario, std::size_t i);

/// " of main_1" where several main valves stand side by side, so that it takes a name to know which; else empty.
std::string of_which_main(const scenarios::Scenario& scenario, std::size_t i);
/// "main_1" in that case, else "the main valve".
std::string main_called(const scenarios::Scenario& scenario, std::size_t i);

} // namespace needleturn
