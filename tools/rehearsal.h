/// The commissioning of a station, step by step, as a run: what hands do, how long to wait, what the gauges then read.
#pragma once

#include "scenarios/scenario.h"

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

/// What hands can get wrong. Each is simulated like the right way.
enum class Slip {
    none,
    screw_spun,       ///< the adjusting screw is turned all the way at once
    set_without_flow, ///< the main valve is set to the wanted flowing pressure while nothing flows
    air_left,         ///< the cover is not bled
    wrong_order ///< the pressure is let in with the screw in, the cock thrown open, outlets open, instead of last
};

/// The readings of the gauges at the valve, Pa; the cover's is that of the first pilot-operated stage.
struct Gauges {
    double inlet = 0, outlet = 0, cover = 0;
};

struct RehearsalStep {
    std::string title;
    std::vector<std::string> hands; ///< what to do, in order
    double begin = 0;               ///< s
    double hands_off = 0;           ///< s, when the last hand has let go
    double end = 0;                 ///< s
    bool judged = false;            ///< held against the scenario's limits
    bool turn = false;              ///< one of several turns of a screw
    // From the run:
    double wait = 0; ///< s after the hands are off until the outlet gauge stands; infinity: it does not
    Gauges before, after;
    double flicker = 0;              ///< Pa, peak to peak of the outlet gauge in the last quarter of the step
    double lowest = 0, highest = 0;  ///< Pa, outlet gauge
    double flow = 0;                 ///< m3/s, delivered at the end
    std::vector<std::string> seen;   ///< what else the run showed: "water runs clear after 8 s"
    std::vector<std::string> broken; ///< limits not kept
};

struct Rehearsal {
    Slip slip = Slip::none;
    scenarios::Scenario scenario; ///< what was run: the station with the steps as its schedule
    std::vector<RehearsalStep> steps;
    std::string failure; ///< empty: the run is complete

    /// Complete, and every limit is kept in the steps that are judged.
    bool accepted() const;
};

/// Rehearses the station of `scenario`: from shut cocks and a dry cover to proof at low, middle and full flow. Of the
/// scenario's demand only its flows are used, branches stay shut; of its stages also their settings, which are those to arrive at. Throws
/// std::invalid_argument when no stage is pilot-operated, sim::NoEquilibrium as simulate.
Rehearsal rehearse(const scenarios::Scenario& scenario, Slip slip = Slip::none);

/// "the adjusting screw is spun in": what goes wrong, in a few words.
std::string describe(Slip slip);

} // namespace needleturn
