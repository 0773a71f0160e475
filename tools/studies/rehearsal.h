/// The commissioning of a station, step by step, as a run: what hands do, how long to wait, what the gauges then read.
#pragma once

#include "scenarios/scenario.h"
#include "sim/hunting.h"

#include <cstddef>
#include <string>
#include <vector>

namespace needleturn {

/// The flows to prove a station at, m3/s.
struct ProofFlows {
    double low = 0, middle = 0, full = 0;
};

/// Lowest and highest flow of the scenario's demand that are not zero, and what lies between in ratio. Throws
/// std::invalid_argument for a demand that never flows.
ProofFlows proof_flows(const scenarios::Scenario& scenario);

/// Pa that a turn of the adjusting screw of a stage makes.
double per_turn(const scenarios::Stage& stage);

/// The scenario with its stages set as its adjustments leave them, and no adjustments.
scenarios::Scenario as_left(scenarios::Scenario scenario);

/// What hands can get wrong. Each is simulated like the right way.
enum class Slip {
    none,
    screw_spun,       ///< the adjusting screw is turned without stopping until the gauge reads what is wanted
    set_without_flow, ///< the main valve is set to the wanted flowing pressure while nothing flows
    air_left,         ///< the cover is not bled
    wrong_order ///< the pressure is let in with the screw in, the cock thrown open, outlets shut, instead of last
};

/// How long hands wait, found by simulation.
struct Pace {
    double bleeding = 0; ///< s, with the fitting of the main valve's cover cracked; 0: to be found
    double patience = 1; ///< factor on every other wait, so long that the gauges stand
};

/// Gauges at the valve, Pa; the cover's is that of the first pilot-operated stage.
struct Gauges {
    double inlet = 0, outlet = 0, cover = 0;
};

struct RehearsalStep {
    std::string title;
    std::vector<std::string> hands; ///< what to do, in order
    double begin = 0;               ///< s
    double hands_off = 0;           ///< s, when the last hand has let go
    double end = 0;                 ///< s
    bool judged = false;   ///< held against all of the scenario's limits; else the highest pressure only
    std::size_t turn = 0;  ///< of several alike of one screw: which, from 1; else 0
    std::size_t turns = 0; ///< of how many
    double screw = 0;      ///< turns from slack at which such a turn ends
    // From the run:
    double wait = 0; ///< s after the hands are off until the outlet gauge stands; infinity: it does not
    Gauges before, after;
    Gauges flicker;                  ///< peak to peak in the last quarter of the step
    sim::Hunting hunting;            ///< of the outlet gauge, hands off
    double lowest = 0, highest = 0;  ///< Pa, outlet gauge
    double flow = 0;                 ///< m3/s, delivered at the end
    std::vector<std::string> seen;   ///< what else the run showed: "water runs clear after 8 s"
    std::vector<std::string> broken; ///< limits not kept

    bool hunts() const;
};

struct Rehearsal {
    Slip slip = Slip::none;
    Pace pace;
    scenarios::Scenario scenario; ///< what was run: the station with the steps as its schedule
    std::vector<RehearsalStep> steps;
    std::string failure; ///< empty: the run is complete

    /// Complete, and every limit is kept.
    bool accepted() const;
    bool breaks_a_limit() const;
};

/// Rehearses the station of `scenario`: from shut cocks and dry covers to proof at low, middle and full flow.
///
/// Of the scenario's demand only its flows are used, as outlets to the open air, and how long it takes between them; branches
/// stay shut, consumers on the inlet side as they are at the start. Of its stages also the settings, which are those to
/// arrive at.
///
/// The highest outlet pressure is held against its limit in every step, the other limits where the station is proved. The
/// settling time counts from when the hands are off, as long as they take, and only where water flows in the end: the last of
/// a lock-up, with the pilot all but shut, takes its time on every valve of this kind.
///
/// Throws std::invalid_argument when no stage is pilot-operated, sim::NoEquilibrium as simulate.
Rehearsal rehearse(const scenarios::Scenario& scenario);

/// The same with something done wrong, at the pace of the usual order.
Rehearsal rehearse(const scenarios::Scenario& scenario, Slip slip, Pace pace);

/// The usual order and each way to go wrong, at once on several processors.
struct Lesson {
    Rehearsal usual;
    std::vector<Rehearsal> slips;
};
Lesson rehearse_all(const scenarios::Scenario& scenario);

/// "the adjusting screw is spun in": what goes wrong, in a few words.
std::string describe(Slip slip);

} // namespace needleturn
