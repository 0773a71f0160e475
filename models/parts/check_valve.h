/// A check valve behind a stage: water that has passed the stage does not come back through it.
///
///     q = C (root(d+) + leak root(d)),   d = p_from - p_to,   d+ = d^2 / (d + span) where d > 0, else 0        (67)
///
/// The flap opens over `check_span` of drop, as (27) and the checks of (12) do, and passes C once it is off its seat: a full-bore
/// swing check, whose flap hangs out of the way at a little flow (chosen). A shut one weeps as a shut cock does, (33): without that
/// the pressure between two shut seats would be undetermined. With an outlet cock behind it both stand in one element, for little
/// water is between them: 1 / C^2 = 1 / C_check^2 + 1 / C_cock^2.
///
/// Everything of the stage that reaches the outlet does so ahead of the check: trim, pilot, sensing line, what stem and diaphragm
/// displace. So the stage senses what is ahead of its check: a stage whose check is shut by the others holds its own pressure.
/// Not modelled: the mass of the flap, and so the slam of one that shuts late; a spring that holds it shut; its flutter at little
/// flow.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/smooth.h"
#include "models/laws/storage.h"
#include "models/parts/speed_control.h"

#include <cmath>
#include <tuple>

namespace needleturn::models {

template <class P> struct CheckValveOf {
    P capacity = 0;     ///< C_check, m3 s-1 Pa-1/2, > 0
    StorageOf<P> space; ///< between seat and flap, where no outlet cock brings one

    static constexpr double leak = 1e-9; ///< of the capacity: as a cock's

    /// Equation (67) with a capacity C for the whole passage, m3/s.
    template <class C, class S> static S passes(C capacity, S from, S to) {
        const S drop = from - to;
        return capacity
               * (drop_root(beyond(drop, check_span), large_passage_knee)
                  + leak * drop_root(drop, large_passage_knee));
    }
    template <class S> S flow(S from, S to) const { return passes(capacity, from, to); }
    /// The drop, Pa, at which a check of this capacity passes the flow, m3/s, >= 0; what it weeps left out.
    static double drop(double capacity, double flow) {
        const double q = flow / capacity, past = (std::sqrt(large_passage_knee / 2) + q) * q;
        return 0.5 * (past + std::sqrt(past * (past + 4 * check_span)));
    }

    static constexpr auto fields(auto& of) { return std::tie(of.capacity, of.space); }
    bool operator==(const CheckValveOf&) const = default;
};
using CheckValve = CheckValveOf<double>;

} // namespace needleturn::models
