/// The commissioning of a station, step by step, as a run: what hands do, how long to wait, what the gauges then read.
#pragma once

#include "scenarios/scenario.h"
#include "sim/hunting.h"
#include "tools/studies/finding.h"
#include "tools/studies/procedure.h"
#include "tools/studies/simulate.h"
#include "tools/studies/stability.h"

#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// Gauges at the valve, Pa; which cover's: cover_read (commissioned.h).
struct Gauges {
    double inlet = 0, outlet = 0, cover = 0;
};

/// Pa: what is called another reading, on a common gauge. Common practice, no source.
inline constexpr double another_reading = 0.15e5;

/// A step and what the run showed of it.
struct RehearsalStep : ProcedureStep {
    double wait =
        0; ///< s after the hands are off until the outlet gauge is steady; infinity: it does not come to that
    Gauges before, after;
    Gauges flicker;                 ///< peak to peak in the last quarter of the step
    sim::Hunting hunting;           ///< of the outlet gauge, hands off
    Stability stability;            ///< what the steady state at its end is worth
    double lowest = 0, highest = 0; ///< Pa, outlet gauge
    double flow = 0;                ///< m3/s, delivered at the end
    /// s after the fitting was cracked until water runs clear, where a cover is bled; infinity: air still comes at the end.
    std::optional<double> clear_after;
    std::vector<Finding> findings; ///< limits not kept, and those of which it is not known

    /// The gauge shows it, and it does not die away, or it would once something disturbs the outlet; only while water flows.
    bool hunts() const;
    /// Pa, peak to peak, of that; infinity where it is not known how far it grows; 0: does not hunt.
    double swing() const;

    /// Those findings whose limit and reason `other` has not; all of them where the outlet gauge goes or shakes farther here,
    /// by another_reading.
    std::vector<Finding> findings_beyond(const RehearsalStep& other) const;
};

struct Rehearsal {
    Slip slip = Slip::none;
    Pace pace;
    scenarios::Scenario scenario; ///< what was run: the station with the steps as its schedule
    std::vector<RehearsalStep> steps;
    std::string failure; ///< empty: the run is complete

    /// Complete, and every limit is known to be kept.
    bool accepted() const;
    /// A limit is not kept, or it is not known whether it is.
    bool has_findings() const;

    /// The step that is the same as `step` of another order (StepId), or as the last turn of a screw that is turned in another
    /// number of turns there; null: there is none.
    const RehearsalStep* same_step(const StepId& step) const;
};

/// Rehearses the station of `scenario`: from shut cocks and dry covers to proof at low, middle and full flow.
///
/// Of the scenario's outlets only their flows are used, as openings to the open air, laid over them as outlets.h says, and how
/// long it takes between them; consumers on the inlet side stay as they are at the start. Last comes what the scenario states to
/// change by itself, unless that takes longer than longest_own_changes (own_changes.h). While the line has no pressure only the
/// highest outlets are open, so that it stays full: what a lower one would drain is not modelled. Of its stages also the settings,
/// which are those to arrive at; screws and needles begin where its last record says, if it has one (recorded_start.h).
///
/// The highest pressure at the outlet of the valve, and where water is drawn, is held against its limit in every step, the other
/// limits where the station is proved. The
/// settling time counts from when the hands are off, as long as they take, and only where water flows in the end: the last of
/// a lock-up, with the pilot all but shut, takes its time on every valve of this kind.
///
/// Throws std::invalid_argument when no stage is pilot-operated or one is set above its supply, sim::NoEquilibrium as simulate.
Rehearsal rehearse(const scenarios::Scenario& scenario, const Progress& watch = {});

/// The same with something done wrong, at the pace of the usual order.
Rehearsal rehearse(const scenarios::Scenario& scenario, Slip slip, Pace pace, const Progress& watch = {});

/// The usual order and each way to go wrong, at once on several processors.
struct Lesson {
    Rehearsal usual;
    std::vector<Rehearsal> slips;
};
/// `watch` is called from several threads, one at a time.
Lesson rehearse_all(const scenarios::Scenario& scenario, const Progress& watch = {});

} // namespace needleturn
