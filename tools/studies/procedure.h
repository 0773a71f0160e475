/// What hands do to commission a station, written as a scenario: the usual order, and what can go wrong.
#pragma once

#include "scenarios/scenario.h"
#include "tools/studies/rehearsal.h"

#include <cstddef>
#include <vector>

namespace needleturn {

/// Steps, and the station with what hands do in them as its schedule.
struct Script {
    scenarios::Scenario scenario;
    std::vector<RehearsalStep> steps;
};

inline constexpr auto bleed_title = "Bleed at the highest point";

/// Number of the stage that is commissioned first: the first with a pilot. Throws std::invalid_argument if there is none.
std::size_t main_stage(const scenarios::Scenario& scenario);

/// All steps. `spun_to`, Pa: where the hand stops that spins the screw (Slip::screw_spun).
Script procedure(const scenarios::Scenario& scenario, Slip slip, Pace pace, double spun_to);

/// The usual order as far as the cover of the main valve is bled, for pace.bleeding.
Script filling(const scenarios::Scenario& scenario, Pace pace);

/// As far as the main valve's screw is spun from slack to `most`, Pa.
Script spinning(const scenarios::Scenario& scenario, Pace pace, double most);

/// Pa that the screw of the main valve makes `seconds` after a hand has begun to spin it from where it was backed off to.
double spun_pressure(const scenarios::Scenario& scenario, double seconds);

/// Pa that the outlet reads with the main valve alone at full flow and its wanted setting.
double flowing_pressure(const scenarios::Scenario& scenario);

} // namespace needleturn
