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

#include "models/restriction.h"
#include "models/smooth.h"

#include <algorithm>
#include <cmath>

namespace needleturn::models {

struct SpeedControl {
    double capacity = 0;       ///< C_full, m3 s-1 Pa-1/2, > 0
    double full_turns = 0;     ///< > 0
    double exponent = 0;       ///< e, [0.5, 4]
    double check_capacity = 0; ///< m3 s-1 Pa-1/2, > 0

    /// Equation (11); turns from seated, taken as 0 below 0 and as full above full.
    template <class S> S needle_capacity(S turns) const {
        using std::max;
        using std::min;
        using std::pow;
        // 1e-6 of full turns keeps the slope of the power law finite; it passes nothing that matters.
        return capacity * pow(max(min(turns / full_turns, S(1.0)), S(1e-6)), exponent);
    }
    bool operator==(const SpeedControl&) const = default;
};

/// Drop, Pa, over which a check goes from shut to open.
inline constexpr double check_span = 2e3;

/// Capacity of two restrictions in series.
template <class S> S in_series(S a, S b) {
    using std::sqrt;
    return a * b / sqrt(a * a + b * b);
}

/// Equation (12): flow into the cover, m3/s. Turns from seated.
template <class S> S cover_flow(const SpeedControl& opening, S opening_turns, const SpeedControl& closing,
                                S closing_turns, S tee, S cover) {
    const S needle_opening = opening.needle_capacity(opening_turns);
    const S needle_closing = closing.needle_capacity(closing_turns);
    const S in = in_series(needle_closing, S(needle_opening + opening.check_capacity));
    const S out = in_series(needle_opening, S(needle_closing + closing.check_capacity));
    const S drop = tee - cover;
    return (out + (in - out) * smooth_step(drop, check_span)) * drop_root(drop, small_passage_knee);
}

} // namespace needleturn::models
