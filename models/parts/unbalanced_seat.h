/// Seat of a pilot or of a direct-acting regulator whose disc is not balanced: the drop across it presses on the disc.
///
///     F_o = A_o ((p_in - p_out) - (p_ref - p_set))                                                    (48)
///
///     A_o    area of the seat, m2; p_in, p_out pressures ahead of it and behind it, Pa gauge
///     p_ref  inlet pressure at which the screw was set, Pa gauge
///
/// It closes: the spring stands above the diaphragm, the outlet pressure below it, the seat below that, and the disc under the seat
/// on the side of the inlet, so that what the spring pushes down opens and the inlet pressure presses the disc up against its seat
/// (a usual layout; there are discs on the other side, which open with the flow, and they are not modelled). The whole drop acts on
/// the whole seat at any lift, which is small beside the bore. A screw is set by a gauge, so p_set stays what that shows when the
/// valve just shuts at p_ref; at another inlet pressure it just shuts at
///
///     p_s = p_set - A_o / (A - A_o) (p_in - p_ref)                                                    (49)
///
/// where A is the diaphragm's area: the outlet of such a valve rises when its inlet falls. A disc that opens displaces A_o v ahead of
/// it and leaves as much room behind. A force balance, no outside source.
#pragma once

#include "models/laws/storage.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <tuple>

namespace needleturn::models {

template <class P> struct UnbalancedSeatOf {
    P area = 0;   ///< A_o, m2, > 0, less than the diaphragm's
    P set_at = 0; ///< p_ref, Pa gauge

    /// Equation (48), N, closing, from p_in - p_out and p_set.
    template <class S> S force(S drop, S set) const { return area * (drop - (set_at - set)); }

    /// `speed` is the stem's, opening, `set` the drive of the set pressure; `mass` kg.
    template <class On> void visit(On& on, const PortOf<P>& in, const PortOf<P>& out, std::size_t speed,
                                   std::size_t set, P mass) const {
        on(reads(in.pressure, out.pressure, speed, set), writes(speed, in.pressure, out.pressure),
           [this, mass, per_in = in.per_volume, per_out = out.per_volume](auto p1, auto p2, auto v,
                                                                          auto p_set) {
               using S = decltype(p1);
               return rates(-this->force(S(p1 - p2), p_set) / mass, area * per_in * v, -area * per_out * v);
           });
    }

    static constexpr auto fields(auto& of) { return std::tie(of.area, of.set_at); }
    bool operator==(const UnbalancedSeatOf&) const = default;
};
using UnbalancedSeat = UnbalancedSeatOf<double>;

} // namespace needleturn::models
