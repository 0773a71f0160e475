/// The verdict: what each event of a run did to the outlet pressure, and whether that is within the scenario's limits.
#pragma once

#include "models/station_parts.h"
#include "scenarios/demands.h"
#include "scenarios/scenario.h"
#include "sim/hunting.h"
#include "sim/recording.h"
#include "sim/tracks.h"
#include "tools/studies/finding.h"
#include "tools/studies/night_analysis.h"
#include "tools/studies/relief_analysis.h"
#include "tools/studies/shared_load.h"
#include "tools/studies/stability.h"
#include "tools/studies/strainer_analysis.h"
#include "tools/studies/sustaining_analysis.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// Peak-to-peak, Pa, from which an oscillation counts as hunting: half of it either way is a needle that visibly shakes on
/// a common gauge. Common practice, no source.
inline constexpr double visible_flicker = 2e3;

/// m3/s: less is nobody's consumption. A drop a second is 5e-8.
inline constexpr double nothing_flows = 1e-6;

/// s: of an event that lasts longer only its end is asked whether it hunts. Fifty periods of the slowest hunting known.
inline constexpr double longest_hunting_window = 1000;

/// Something that hands, consumers or the supply do at a known time.
struct Event {
    double at = 0;       ///< s
    double until = 0;    ///< s, when the change is complete
    std::string what;    ///< "demand 9 -> 2 L/s", in the scenario's units
    bool course = false; ///< a demand follows a log or draws meanwhile
};

/// Samples of the recording per sample of the file. The analyses need 1 kHz whatever the file is to hold: a coarser grid shows
/// fast motion as slow (aliasing).
std::size_t stride_of(const scenarios::Scenario& scenario);

/// The start of the run and every step of the scenario, by time. Events that begin at one sample of the recording are one,
/// their texts joined: nothing is seen between them.
std::vector<Event> events_of(const scenarios::Scenario& scenario);

/// What happens in each of them, in the units of the scenario.
std::vector<std::string> names_of_events(const scenarios::Scenario& scenario);

/// What an event shows where water is drawn. Pa gauge.
struct OutletVerdict {
    std::string name; ///< as scenarios::visit_demands calls it
    double highest = 0, lowest = 0;
    double flicker =
        0; ///< peak to peak, by which it still swings at the end of the window; 0: not by visible_flicker
};

/// Of an event in which a demand follows a log or draws: what is settled, and whether it hunts, is asked of stretches in which
/// everything goes on in a straight line for shortest_stretch or more (course.h).
struct CourseVerdict {
    std::size_t stretches = 0; ///< 0: no such stretch, nothing of that is asked
    double least = 0, least_at = 0, greatest = 0,
           greatest_at = 0; ///< m3/s wanted behind the station in them; s
    double least_share = 1; ///< delivered of wanted, in the worst of them
    double hunts_at = 0;  ///< s, where the stretch begins that hunts most; of a recording that shows hunting
    double stands_at = 0; ///< m3/s, the flow whose steady state is told in `stability`
};

/// One event judged, over the window from its start to the next event. Pressures in Pa, flows in m3/s, times in s,
/// counted from the start of the event unless called `at`.
struct EventVerdict {
    Event event;
    double window_end = 0;       ///< s
    bool last = false;           ///< of the run
    double flow = 0;             ///< delivered, settled
    double wanted = 0;           ///< of all who draw behind the station, at the end of the window
    double flowing_pressure = 0; ///< at the outlet, settled
    /// Static set pressure, as night settings then leave it, minus flowing pressure; NaN while it hunts.
    double fall_off = 0;
    double lowered =
        0; ///< by how much night settings have lowered the static set pressure since the change was complete
    double highest = 0, highest_at = 0; ///< times: NaN while it hunts or nothing moves: either comes again
    double lowest = 0, lowest_at = 0;
    double settling_time = 0; ///< infinity: not within the window; NaN while it hunts
    double steepest_rise = 0; ///< Pa/s
    double wrong_way = 0; ///< m, how far the stem first moved against its eventual change; NaN while it hunts
    sim::Hunting hunting; ///< of the outlet pressure after the change, as the recording shows it
    Stability stability;  ///< what the steady state at its end is worth
    std::size_t seat_strikes = 0; ///< of any stage's stem
    std::size_t stop_strikes = 0;
    double hardest_strike = 0; ///< m/s
    bool rises_at_end = false; ///< the outlet ends the window above flowing_pressure
    /// Of the places that a limit is stated for (places.h); else nothing and NaN.
    std::vector<OutletVerdict> outlets;
    double pipe_velocity = std::numeric_limits<double>::quiet_NaN(); ///< m/s, highest at an end of any pipe
    double cavitation_index = std::numeric_limits<double>::quiet_NaN(); ///< lowest of any stage
    std::string fastest_pipe, cavitating_stage;                         ///< where that is
    std::optional<CourseVerdict>
        course; ///< of an event with one; flow, wanted, flowing pressure and fall-off are those of the
                ///< stretch that falls off most
    std::vector<ReliefVerdict> reliefs; ///< of every relief valve; nothing where the recording does not tell
    std::optional<StrainerVerdict> strainer;   ///< none, or the recording does not tell
    std::vector<SustainingVerdict> sustaining; ///< of every sustaining pilot
    std::vector<NightVerdict> night;           ///< of every night setting
    std::vector<StageLoad> loads;              ///< of several main valves: who carries what; else none
    std::vector<Finding> findings;             ///< limits not kept, and those of which it is not known
    /// A stated limit is not kept.
    bool breaks() const { return std::ranges::any_of(findings, std::logical_not{}, &Finding::undecided); }
    /// Of a stated limit it is not known whether it is kept.
    bool is_undecided() const { return std::ranges::any_of(findings, &Finding::undecided); }
    bool passed() const { return findings.empty(); }

    /// The recording shows hunting, and it does not die away afterwards.
    bool hunts_in_window() const {
        return hunting.hunts() && (course || stability.kind != Stability::Kind::holds);
    }
    /// Of the flow that is wanted; 1 where nothing is: then nothing is missing.
    double share_delivered() const {
        return course ? course->least_share : wanted > nothing_flows ? flow / wanted : 1;
    }
    /// Pa above the static set pressure, where the outlet stands with nothing drawn any more; NaN: water is drawn. What is shut in keeps
    /// its pressure while a night setting falls, so it is counted from what was set when the change was complete.
    double static_rise() const {
        return wanted > nothing_flows ? std::numeric_limits<double>::quiet_NaN() : -fall_off - lowered;
    }
    /// Pa, by how much the outlet ends above the static set pressure; as static_rise where nothing is drawn.
    double above_setting() const { return wanted > nothing_flows ? -fall_off : static_rise(); }
    /// Water is wanted, and what is delivered is far below it.
    bool falls_short() const {
        return wanted > nothing_flows
               && (course ? scenarios::far_short(course->least_share, 1)
                          : scenarios::far_short(flow, wanted));
    }
    /// The outlet falls below the pressure of the air outside, by as much as a gauge shows.
    bool has_vacuum() const { return lowest < -visible_flicker; }
    /// The outlet pressure has come to stand at the value settled to.
    bool settles() const { return std::isfinite(settling_time); }
    /// It hunts there, or would once something disturbs it.
    bool hunts() const { return hunts_in_window() || stability.hunts(); }
    /// Pa, what a limit on hunting is held against: the larger of what the recording shows and of what it comes to. 0 without
    /// hunting, infinity where it is not known how far a motion grows.
    double swing() const;
};

/// The signals that the verdict reads.
std::vector<std::string> judged_signals(const scenarios::Scenario& scenario);

/// What a recording sampled every `interval` seconds shows of each event; nothing is held against limits yet. A window that
/// the recording does not reach is left out; one it reaches in part is measured as far as it goes. Hunting is looked for in the
/// last longest_hunting_window of an event. `parts`: of the station, for limits on pipes and stages; null: these are not measured.
std::vector<EventVerdict> measure(const scenarios::Scenario& scenario, const sim::Tracks& recording,
                                  double interval, const models::StationParts* parts = nullptr);

/// Hunting of a pressure between two samples; of a long stretch at its end, of a finely sampled one in samples that are enough.
sim::Hunting hunting_between(const sim::Track& pressure, std::size_t begin, std::size_t end, double interval);

/// Takes out what means nothing while the valve hunts, and holds the rest against the limits of the scenario.
void hold_against_limits(std::vector<EventVerdict>& verdict, const scenarios::Scenario& scenario);

/// Both of them, of a recording alone: nothing is asked of the steady states at the ends of its events, of pipes and of stages.
std::vector<EventVerdict> judge(const scenarios::Scenario& scenario, const sim::Recording& recording,
                                double interval);

sim::Table events_table(const scenarios::Scenario& scenario);
/// A row for each event. What is only measured where a limit of `accept` asks for it has a column only there.
sim::Table verdict_table(const std::vector<EventVerdict>& verdict, const scenarios::Accept& accept);

} // namespace needleturn
