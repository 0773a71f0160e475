/// What an event leaves behind: a steady state that holds, one that only nobody has disturbed, or hunting.
///
/// A recording shows what happened, not what a small disturbance would do: a run that starts on an unstable steady state stays
/// on it, since nothing moves it off. So at the end of every event the steady state that belongs to the drives as they stand
/// is found, with the modes of small motion about it, and the run goes on from there for a while, unrecorded, after a standard
/// knock: all who draw water behind the station draw a stated share more for a stated time (`[accept]` knock,
/// knock_duration). Hunting that breaks its limit is not knocked; smaller hunting is, for it may be the smaller of two cycles.
#pragma once

#include "scenarios/scenario.h"
#include "sim/hunting.h"
#include "sim/modes.h"
#include "sim/recording.h"
#include "tools/studies/station_system.h"

#include "models/station.h"

#include <Eigen/Core>

#include <functional>
#include <string>
#include <vector>

namespace needleturn {

struct Stability {
    enum class Kind {
        not_asked,          ///< nobody draws water, or the run did not come so far
        moving,             ///< hands, consumers or the supply are still at work when the event's window ends
        holds,              ///< small motions decay, and after the knock the station comes back
        hunts_once_knocked, ///< small motions decay, but a knock brings hunting that stays
        does_not_hold,      ///< small motions grow: it is at rest only as long as nothing disturbs it
        undecided           ///< `unknown` says why
    };
    /// What is not known of an undecided state.
    enum class Unknown {
        nothing,
        steady_state, ///< none was found
        end,          ///< the motion after the knock neither dies away nor lasts as it is
        motion        ///< it could not be computed: `failure`
    };
    Kind kind = Kind::not_asked;
    Unknown unknown = Unknown::nothing;
    std::string failure; ///< of the integration: when and why
    /// The mode that grows fastest, else the oscillation that decays most slowly; of holds, hunts_once_knocked and
    /// does_not_hold.
    sim::Mode mode;
    bool knocked =
        false; ///< the motion below began with the knock; otherwise it goes on from the event itself
    bool cycle_known = false; ///< the motion reached the cycle told below; otherwise that is how far it got
    double peak_to_peak = 0;  ///< Pa, median swing of the outlet pressure
    double span = 0;          ///< Pa, highest less lowest outlet pressure
    double frequency = 0;     ///< Hz
    bool irregular = false;
    /// Stems that stick (models/parts/stem_friction.h) and that the knock did not break loose, "main", "main pilot": what a harder one does
    /// is not known. Empty where nothing was knocked.
    std::vector<std::string> stuck;

    /// Is the mode, and with it what becomes of a motion, known?
    bool mode_known() const {
        return kind == Kind::holds || kind == Kind::hunts_once_knocked || kind == Kind::does_not_hold;
    }
    /// Does motion that can be seen stay? Where it is not known how far it grows, it does.
    bool hunts() const;
    /// Does it hold as far as is known because a stem sticks?
    bool holds_stuck() const { return kind == Kind::holds && !stuck.empty(); }
    /// Pa: what a limit on hunting is held against.
    double swing() const { return irregular ? span : peak_to_peak; }
    /// Pa: the same of a window that shows a swing of `seen` (0: none); infinity where it is not known how far motions grow.
    double swing_beside(double seen) const;
    /// s in which small motions double (they grow) or halve (they decay).
    double doubling_time() const;
};

/// "not asked", "moving", "holds", "hunts once knocked", "does not hold", "undecided".
const char* name(Stability::Kind kind);

/// The instant at which an event's window ends, as its run left it.
struct EventEnd {
    double time = 0;   ///< s
    Eigen::VectorXd y; ///< states as stored
};

/// What the state at `end` is worth. `window` is what the recording of the event showed: where it hunts already there is no
/// need of a knock. `system` has the drives of the whole run. `go_on` is asked now and then; false leaves it undecided. The
/// work is added to `counts`.
Stability stability_after(const sim::System<models::Station>& system, const scenarios::Scenario& scenario,
                          const EventEnd& end, const sim::Hunting& window, sim::Counts& counts,
                          const std::function<bool()>& go_on = {});

/// All signals from the knock on, for scenario.run.record_knock seconds from the instant `end`, sampled every `interval` (s). Throws
/// sim::IntegrationFailure.
sim::Recording recorded_knock(const sim::System<models::Station>& system, const scenarios::Scenario& scenario,
                              const EventEnd& end, double interval);

} // namespace needleturn
