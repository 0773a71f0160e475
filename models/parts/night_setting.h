/// Night setting: an actuator that eases the pilot's spring while little flows through the stage, so that the outlet stands lower by
/// night, when less of it is lost in pipes. State: its place z, 0 by night, 1 by day.
///
///     dz/dt = (s(q) - z) / T,   s: 0 below q_night, 1 above q_day, a cubic between                    (73)
///     m dw/dt = ... - (A_p - A_o) dp (1 - z)                                                          (74)
///
///     q        what enters the stage's body, m3/s, as a meter ahead of it shows
///     T        lag of meter, controller and actuator together, s
///     dp       by how much the static set pressure is lower by night, Pa
///     A_p, A_o areas of the pilot's diaphragm and, where it is not balanced, of its seat, m2
///
/// The pilot's set pressure is that of the day; at any time it is set to p_set - dp (1 - z), and not below 0. There is no memory:
/// at one flow there is one setting. But a higher outlet pressure makes more flow, which raises the setting again; where dp is large
/// beside q_day - q_night, there are two states at one opening of the outlets. Which law an actuator follows between its ends is an
/// assumption, no source.
#pragma once

#include "models/laws/smooth.h"
#include "models/names.h"
#include "sim/contract/model.h"

#include <algorithm>
#include <cstddef>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Where its state is among the values.
struct NightSettingIndex {
    std::size_t day_share = 0;
};

template <class P> struct NightSettingOf {
    P lower_by = 0; ///< dp, Pa, > 0
    P below = 0;    ///< q_night, m3/s, >= 0
    P above = 0;    ///< q_day, m3/s, > below
    P lag = 0;      ///< T, s, > 0

    /// s(q) of (73).
    template <class S> S day_share(S flow) const {
        const P half = 0.5 * (above - below);
        return smooth_step(S((flow - (below + half)) / half), 1.0);
    }
    /// By how much the set pressure is lower than by day, Pa: no more than the screw presses, for a slack spring does not pull.
    template <class S> S eased(S share, S set) const {
        using std::max;
        using std::min;
        return min(S(lower_by * (1.0 - share)), S(max(set, 0.0)));
    }

    void name_state(NightSettingIndex& at, Names& names, const std::string& stage) const {
        names.part = stage + " night setting";
        at.day_share = names.add(stage + ".day_share", "1", 1, "place of the night setting: 0 night, 1 day");
    }
    void name_signals(Names& names, const std::string& stage) const {
        names.add(stage + ".setting", pascal, bar, "set pressure that the night setting leaves, static");
    }

    static constexpr auto fields(auto& of) { return std::tie(of.lower_by, of.below, of.above, of.lag); }
    bool operator==(const NightSettingOf&) const = default;
};
using NightSetting = NightSettingOf<double>;

} // namespace needleturn::models
