/// A finding: a stated limit that is not kept, or of which it is not known whether it is. Data; words are made where a reader
/// is (tools/commands/finding_text.h, tools/page/finding.js).
#pragma once

#include "scenarios/limits.h"

#include <limits>
#include <string>
#include <vector>

namespace needleturn {

struct Finding {
    enum class Reason {
        beyond,             ///< `value` lies beyond the bound
        hunts,              ///< the recording shows hunting of `value`
        hunts_once_knocked, ///< `value`, after the knock
        leaves_rest,        ///< small motions about the steady state grow to hunting of `value`
        grows,              ///< they grow, to `value` at least; how much farther is not known
        does_not_settle,    ///< not within the window, which ends at `value`
        hunts_unlimited, ///< hunts by `value`, for which no limit is stated: neither settles nor has a fall-off
        no_steady_state, ///< none was found at the end of the event
        no_end,          ///< the motion after the knock neither dies away nor lasts as it is
        not_computed,    ///< the motion after the knock could not be computed: `detail`
        still_changing,  ///< the run ends while hands, consumers or the supply are still at work
        cells,           ///< `value` lies within `doubt` of the bound, as far as the number of cells moves it
        not_at_rest,     ///< the outlet still rises at the end of the event, which is at `value`, s
        still_open,      ///< a relief valve lets water out at the end of the run, which is at `value`, s
        never_rests, ///< demands follow a log or draws, which never go on in a straight line for long enough
        not_followed ///< of hunting that the recording does not show it is not known how much arrives at the outlet
    };
    scenarios::Limit limit = scenarios::Limit::hunting;
    Reason reason = Reason::beyond;
    bool undecided = false;                                  ///< it is not known whether the limit is kept
    double value = std::numeric_limits<double>::quiet_NaN(); ///< SI, of what is limited; NaN: not known
    double bound = 0;                                        ///< SI
    double doubt = 0;        ///< of grows: s in which small motions double; of cells: Pa that they leave open
    std::string detail = {}; ///< of not_computed: when and why
    std::string place = {};  ///< the outlet, pipe or stage where it is so; empty: at the outlet of the valve

    scenarios::PlacedLimit what() const {
        const bool of_outlet = scenarios::entry_of(limit).of == scenarios::LimitOf::each_outlet;
        return {limit, of_outlet ? place : std::string()};
    }

    bool operator==(const Finding&) const = default;
};

/// "beyond", "hunts", "hunts once knocked", "leaves rest", "grows", "does not settle", "hunts unlimited", "no steady state", "no
/// end", "not computed", "still changing", "cells", "not at rest", "still open", "never rests", "not followed": as a file has it.
const char* name(Finding::Reason reason);

/// The findings of one kind as a column of a file has them: "hunting_peak_to_peak: hunts; rooms.lowest_pressure: beyond;
/// pipe_velocity: beyond at rooms_pipe"; empty: none. The values and bounds are in other columns (scenarios::PlacedLimit::metric)
/// and in the scenario.
std::string in_file(const std::vector<Finding>& findings, bool undecided);

} // namespace needleturn
