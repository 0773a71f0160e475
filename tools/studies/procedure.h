/// What hands do to commission a station, written as a scenario: the usual order, and what can go wrong.
#pragma once

#include "scenarios/scenario.h"

#include <cstddef>
#include <string>
#include <vector>

namespace needleturn {

/// What hands can get wrong. Each is simulated like the right way.
enum class Slip {
    none,
    screw_spun, ///< the adjusting screw is turned without stopping until the gauge reads what is wanted
    set_without_flow, ///< the main valve (of several the first) is set to the wanted flowing pressure while nothing flows
    air_left, ///< the cover is not bled
    wrong_order ///< the pressure is let in with the screw in, the cock thrown open, outlets shut, instead of last
};

/// How long hands wait, found by simulation.
struct Pace {
    double bleeding = 0; ///< s, with the fitting of the main valve's cover cracked; 0: to be found
    double patience = 1; ///< factor on every other wait, so long that the gauges come to rest
};

enum class Task {
    isolate,
    pressurise,
    bleed,
    check_needles,
    let_pressure_in, ///< Slip::wrong_order only
    throw_cock_open, ///< Slip::wrong_order only
    bring_flow,
    shut_outlets, ///< Slip::set_without_flow only
    turn_screw,
    turn_sustaining_screw,
    spin_screw, ///< Slip::screw_spun only
    lock_screw,
    check_lock_up,
    make_room,
    bring_in,
    open_others,
    prove_low,
    prove_middle,
    prove_full,
    prove_stated, ///< what the scenario states to change by itself (own_changes.h)
    stop
};

/// Which step it is, in whatever order it stands: two orders are compared by these.
struct StepId {
    Task task = Task::isolate;
    std::size_t stage = 0; ///< whose valve it is about; that of the main valve where it is about no other
    std::size_t turn = 0;  ///< of several alike of one screw: which, from 1; else 0
    std::size_t turns = 0; ///< of how many
    std::size_t time =
        1; ///< the how-manieth time the order comes to it: a station is proved at low flow twice

    bool operator==(const StepId&) const = default;
};

/// What a hand does. Words: commands/step_text.
enum class Deed {
    look_at_record,     ///< screws and needles stand as the scenario's last record says
    lock_out,           ///< of every stage the inlet cock
    leave_outlet_open,  ///< flow
    back_screw_off,     ///< of `control`: turns from slack
    turn_from,          ///< `control`, from .. turns, both counted from slack or seated
    watch_gauges_fall,  ///< after the step outlet and cover read `pressure`, `cover`: known by the run only
    fill_drained_riser, ///< `volume` of water stands above the valve
    crack_cock_of_dry_valve, ///< until the outlet reads `pressure`: known by the run only
    crack_fitting,           ///< turns, of the cover's bleed
    shut_fitting,
    check_needles,  ///< opening, closing
    leave_screw_in, ///< turns from slack
    throw_cock_open,
    shut_outlets,
    shut_outlets_and_watch,
    shut_outlets_and_record,
    open_outlets, ///< flow; `passed` of it at the setting of the moment; `minimum`, at which the main valve is still steady there
    open_cock_fully, ///< over
    turn_screw,      ///< of `control`: turns
    spin_screw,      ///< until the outlet gauge reads `pressure`; turns
    lock_screw,      ///< of `control`
    shut_cock,
    relieve_outlet, ///< flow
    shut_outlet,
    open_outlet_meanwhile, ///< flow
    crack_cock,
    open_cock,
    open_cock_screw_backed_off, ///< over; turns from slack
    open_outlet_cock,
    shut_outlet_cock,
    set_outlets,      ///< flow, over
    outlet_changes,   ///< `after`: the outlet or consumer `what` goes to `flow`, over; whoever does it
    supply_changes,   ///< `after`: to `pressure`, over
    strainer_changes, ///< `after`: its meshes are open to `share`, over
    many_changes,     ///< `count` of these, within `over`
    supply_as_before  ///< over: consumers ahead of the valve as well
};

struct Hand {
    /// How much of it, where the deed says so.
    struct Amounts {
        double flow = 0;     ///< m3/s, through outlets at the demand's pressure
        double passed = 0;   ///< m3/s
        double minimum = 0;  ///< m3/s
        double pressure = 0; ///< Pa, at the outlet
        double cover = 0;    ///< Pa, under the cover of the main valve
        double turns = 0;
        double from = 0;                 ///< turns
        double opening = 0, closing = 0; ///< turns from seated
        double over = 0;                 ///< s
        double volume = 0;               ///< m3
        double after = 0;                ///< s
        double share = 0;                ///< 0 to 1
        std::size_t count = 0;
    };

    Deed deed = Deed::lock_out;
    std::size_t stage = 0; ///< whose valve
    Amounts amounts = {};
    scenarios::Control control = scenarios::Control::set_pressure; ///< which screw or needle
    /// Of amounts.flow, over the outlets in the order of scenarios::visit_outlets; empty where none is meant.
    std::vector<double> shares = {};
    std::string what = {}; ///< as scenarios::visit_demands calls it
};

struct ProcedureStep {
    StepId id;
    std::vector<Hand> hands; ///< what to do, in order
    double begin = 0;        ///< s
    double hands_off = 0;    ///< s, when the last hand has let go
    double end = 0;          ///< s
    bool judged = false;     ///< held against all of the scenario's limits; else the highest pressure only
    double screw = 0;        ///< turns from slack at which a turn of a screw ends
};

/// Steps, and the station with what hands do in them as its schedule.
struct Script {
    scenarios::Scenario scenario;
    std::vector<ProcedureStep> steps;
};

/// All steps. `spun_to`, Pa: where the hand stops that spins the screw (Slip::screw_spun).
Script procedure(const scenarios::Scenario& scenario, Slip slip, Pace pace, double spun_to);

/// The usual order as far as the cover of the main valve is bled, for pace.bleeding.
Script filling(const scenarios::Scenario& scenario, Pace pace);

/// As far as the main valve's screw is spun from slack to `most`, Pa.
Script spinning(const scenarios::Scenario& scenario, Pace pace, double most);

/// Pa that the outlet reads with the main valve alone, at the flow that it is set at (flow_to_set_at) and its wanted setting: what its
/// screw is turned to while water runs.
double aimed_pressure(const scenarios::Scenario& scenario);

} // namespace needleturn
