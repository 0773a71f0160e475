/// What a worn or dirty stage lets through besides. Absent in a sound one.
///
///     q = C root(p_from - p_to)                                                                         (37)
///
/// A scored or fouled seat is a passage beside the trim; a torn main diaphragm joins the cover with the outlet's side
/// below it; a torn pilot diaphragm lets the sensing chamber drip to the open air. C: capacity, m3 s-1 Pa-1/2, > 0.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/storage.h"
#include "models/parts/bleed.h"
#include "models/parts/cover.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <optional>
#include <tuple>

namespace needleturn::models {

template <class P> struct StageLeaksOf {
    std::optional<P> seat = std::nullopt;            ///< inlet to outlet
    std::optional<P> main_diaphragm = std::nullopt;  ///< cover to outlet
    std::optional<P> pilot_diaphragm = std::nullopt; ///< sensing chamber to the open air

    template <class On> void visit(On& on, const PortOf<P>& body, const PortOf<P>& out,
                                   const CoverOf<P>& cover, const CoverIndex& above, std::size_t lift,
                                   const PortOf<P>& sensed, std::size_t spilt) const {
        const P per_out = out.per_volume;
        if (seat)
            on(reads(body.pressure, out.pressure), writes(body.pressure, out.pressure),
               [this, per_out, per_body = body.per_volume](auto p1, auto p2) {
                   const auto q = *seat * drop_root(p1 - p2, large_passage_knee);
                   return rates(-q * per_body, q * per_out);
               });
        if (main_diaphragm)
            on(reads(above.cover, lift, above.air, out.pressure), writes(above.cover, out.pressure),
               [this, &cover, per_out](auto p, auto x, auto air, auto p2) {
                   using S = decltype(p);
                   const auto q = *main_diaphragm * drop_root(p - p2, small_passage_knee);
                   return rates(cover.pressure_rate(p, x, air, S(-q), S(0.0)), q * per_out);
               });
        if (pilot_diaphragm)
            on(reads(sensed.pressure), writes(sensed.pressure, spilt),
               [this, per_chamber = sensed.per_volume](auto p) {
                   const auto q = *pilot_diaphragm * drop_root(p, small_passage_knee);
                   return rates(-q * per_chamber, q);
               });
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.seat, of.main_diaphragm, of.pilot_diaphragm);
    }
    bool operator==(const StageLeaksOf&) const = default;
};
using StageLeaks = StageLeaksOf<double>;

} // namespace needleturn::models
