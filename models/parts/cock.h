/// Isolating cock: a full-bore ball or gate ahead of a stage.
///
///     q = C_full (h^2 + leak) root(p_inlet - p_body)                                                  (33)
///
/// h is the opening, 0 shut to 1 open. The square is the generic growth of a ball's opening (common practice, no
/// source). A shut cock weeps: without that the pressure caught between two shut seats would be nobody's to know.
/// Between the cock and its valve lies the valve's body, a storage (models/laws/storage.h): what is shut in keeps its pressure
/// until the valve lets it go.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/storage.h"
#include "models/names.h"
#include "sim/contract/model.h"

#include <algorithm>
#include <cstddef>
#include <optional>
#include <string>
#include <tuple>

namespace needleturn::models {

template <class P> struct CockOf {
    P capacity = 0; ///< C_full, m3 s-1 Pa-1/2, > 0

    /// Of the capacity: a drop an hour at 10 bar through a DN100.
    static constexpr double leak = 1e-10;

    /// Equation (33), m3/s.
    template <class S> S flow(S opening, S inlet, S body) const {
        using std::max;
        using std::min;
        const S h = min(max(opening, 0.0), 1.0);
        return capacity * (h * h + leak) * drop_root(inlet - body, large_passage_knee);
    }
    static constexpr auto fields(auto& of) { return std::tie(of.capacity); }
    bool operator==(const CockOf&) const = default;
};
using Cock = CockOf<double>;

/// Where the pressure ahead of the seat is among the values, the inlet's where there is no cock; and the drive of the
/// cock, which means nothing without one.
struct CockIndex {
    std::size_t body = 0, cock = 0;
};

/// A cock between the station's inlet and a stage, and what lies between it and the valve's seat.
template <class P> struct InletCockOf {
    CockOf<P> cock;
    StorageOf<P> body;

    template <class On>
    void visit(On& on, const CockIndex& at, const PortOf<P>& inlet, const PortOf<P>& behind) const {
        on(reads(inlet.pressure, behind.pressure, at.cock), writes(inlet.pressure, behind.pressure),
           [this, per_inlet = inlet.per_volume, per_body = behind.per_volume](auto p1, auto p, auto h) {
               const auto q = cock.flow(h, p1, p);
               return rates(-q * per_inlet, q * per_body);
           });
    }

    static constexpr auto fields(auto& of) { return std::tie(of.cock, of.body); }
    bool operator==(const InletCockOf&) const = default;
};
using InletCock = InletCockOf<double>;

/// The body of a stage, with a cock ahead of it or as one with the inlet.
template <class P> void name_body(CockIndex& at, Names& states, const std::string& stage,
                                  const std::optional<InletCockOf<P>>& cock, const PortOf<P>& inlet) {
    states.part = stage + " body";
    at.body = cock ? states.add(stage + ".body_pressure", pascal, bar, "pressure between cock and seat")
                   : inlet.pressure;
}
template <class P> void name_cock(CockIndex& at, Names& drives, const std::string& stage,
                                  const std::optional<InletCockOf<P>>& cock) {
    if (cock)
        at.cock = drives.add(stage + ".cock", "1", 1, "opening of the isolating cock, 0 shut to 1 open");
}
template <class P>
PortOf<P> body_port(const CockIndex& at, const std::optional<InletCockOf<P>>& cock, const PortOf<P>& inlet) {
    return cock ? cock->body.port(at.body) : inlet;
}

/// Where a stage rests between steady pressures: a guess.
struct StageRest {
    double lift = 0, cover = 0, pilot_lift = 0, flow = 0, body = 0;
};

/// Of a stage behind a cock: the pressure ahead of the seat is where cock and stage pass the same. `rest_of(p1, p2)` is that
/// of the stage alone, `opening` of the cock.
template <class RestOf> StageRest rest_behind(const std::optional<InletCock>& cock, double opening, double p1,
                                              double p2, const RestOf& rest_of) {
    if (!cock || p1 <= p2)
        return rest_of(p1, p2);
    double low = p2, high = p1;
    constexpr int halvings = 40;
    for (int half = 0; half < halvings; ++half) {
        const double body = 0.5 * (low + high);
        (cock->cock.flow(opening, p1, body) > rest_of(body, p2).flow ? low : high) = body;
    }
    return rest_of(0.5 * (low + high), p2);
}

} // namespace needleturn::models
