/// A library of faults, and a station with one of them.
#pragma once

#include "scenarios/build.h"
#include "scenarios/scenario.h"

#include <cstddef>
#include <functional>
#include <vector>

namespace needleturn {

/// What can be wrong with a station. Names and remedies: commands/fault_words.
enum class Fault {
    none,
    air_in_cover,
    restriction_plugged,
    opening_control_nearly_shut,
    closing_control_nearly_shut,
    opening_check_stuck_open,
    pilot_sluggish,
    pilot_diaphragm_leaking,
    main_diaphragm_leaking,
    seat_held_open,
    sensing_line_throttled,
    sensing_line_isolated,
    set_close_to_inlet,
    inlet_starved,
    strainer_clogged,      ///< only where one stands ahead of the station
    sustaining_set_high,   ///< only where the main valve has a sustaining pilot
    sustaining_backed_off, ///< the same
    stuck_by_day,          ///< only where the main valve has a night setting
    stuck_by_night,        ///< the same
    bypass_set_below_main  ///< only where a direct-acting stage stands beside the main valve
};

/// Index of the stage that faults are put into, the first one with a pilot that is not shut off, else the first one with a pilot.
/// Throws std::invalid_argument where no stage has one.
std::size_t pilot_stage(const scenarios::Scenario& scenario);

/// What can be wrong with this station: `none` first, then its faults. Throws as pilot_stage.
std::vector<Fault> faults_of(const scenarios::Scenario& scenario);

/// Changes what was built from a scenario; empty: nothing.
using Wear = std::function<void(scenarios::Installation&)>;

/// A station that something is wrong with: its scenario, and what has befallen the parts that are built from that.
struct FaultyStation {
    scenarios::Scenario scenario;
    Wear wear;
};
/// Throws as pilot_stage, and std::invalid_argument for a fault that is none of faults_of(scenario).
FaultyStation with_fault(scenarios::Scenario scenario, Fault fault);

} // namespace needleturn
