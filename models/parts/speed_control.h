/// Speed controls: two needles in series on the cover line, each beside a check.
///
///     C_needle = C_full (turns / full turns)^e                                                        (11)
///     water into the cover (closing):    C = series(needle_closing, needle_opening + check_opening)
///     water out of the cover (opening):  C = series(needle_opening, needle_closing + check_closing)
///     q_c = C root(p_tee - p_c),   1 / series(a, b)^2 = 1 / a^2 + 1 / b^2                             (12)
///
/// The closing control throttles water that enters the cover, the opening control water that leaves it; the
/// check beside each lets the other direction pass. Flow is positive into the cover. Capacities in parallel
/// add, squared losses in series add (handbook hydraulics). The power law of (11) is this project's generic
/// needle; enter your own. The checks open over +-`check_span` of drop. Not modelled: mass and chatter of the
/// checks.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/smooth.h"
#include "models/names.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Where the turns of both are among the values: drives.
struct SpeedControlIndex {
    std::size_t opening = 0, closing = 0;
};

template <class P> struct SpeedControlOf {
    P capacity = 0;       ///< C_full, m3 s-1 Pa-1/2, > 0
    P full_turns = 0;     ///< > 0
    P exponent = 0;       ///< e, [0.5, 4]
    P check_capacity = 0; ///< m3 s-1 Pa-1/2, > 0

    /// Equation (11); turns from seated, taken as 0 below 0 and as full above full.
    template <class S> S needle_capacity(S turns) const {
        using std::max;
        using std::min;
        using std::pow;
        // 1e-6 of full turns keeps the slope of the power law finite; it passes nothing that matters.
        return capacity * pow(max(min(turns / full_turns, S(1.0)), S(1e-6)), exponent);
    }
    static constexpr auto fields(auto& of) {
        return std::tie(of.capacity, of.full_turns, of.exponent, of.check_capacity);
    }
    bool operator==(const SpeedControlOf&) const = default;
};
using SpeedControl = SpeedControlOf<double>;

inline void name_speed_controls(SpeedControlIndex& at, Names& drives, const std::string& stage) {
    at.opening = drives.add(stage + ".opening_control", "1", 1, "opening control, turns from seated");
    at.closing = drives.add(stage + ".closing_control", "1", 1, "closing control, turns from seated");
}

/// Drop, Pa, over which a check goes from shut to open.
inline constexpr double check_span = 2e3;

/// Capacity of two restrictions in series, of a number of parts and one that states or drives decide, or of two of a kind.
template <class P, class S> S in_series(P a, S b) {
    using std::sqrt;
    return a * b / sqrt(a * a + b * b);
}

/// C of equation (12), m3 s-1 Pa-1/2, at a drop p_tee - p_c. Turns from seated.
template <class P, class S> S cover_capacity(const SpeedControlOf<P>& opening, S opening_turns,
                                             const SpeedControlOf<P>& closing, S closing_turns, S drop) {
    const S needle_opening = opening.needle_capacity(opening_turns);
    const S needle_closing = closing.needle_capacity(closing_turns);
    const S in = in_series(needle_closing, S(needle_opening + opening.check_capacity));
    const S out = in_series(needle_opening, S(needle_closing + closing.check_capacity));
    return out + (in - out) * smooth_step(drop, check_span);
}

/// Equation (12): flow into the cover, m3/s. Turns from seated.
template <class P, class S> S cover_flow(const SpeedControlOf<P>& opening, S opening_turns,
                                         const SpeedControlOf<P>& closing, S closing_turns, S tee, S cover) {
    const S drop = tee - cover;
    return cover_capacity(opening, opening_turns, closing, closing_turns, drop)
           * drop_root(drop, small_passage_knee);
}

} // namespace needleturn::models
