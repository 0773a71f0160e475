/// A non-return valve between the source and the point where the supply's pipes begin: water does not run back into a
/// pump that has stopped.
///
///     q = C root(p_source - p)+                                                                                 (27)
///
/// Opens over `check_span` of drop. Not modelled: its mass, and so the slam of a disc that shuts late.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/smooth.h"
#include "models/laws/storage.h"
#include "models/line.h"
#include "models/parts/speed_control.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <tuple>

namespace needleturn::models {

struct SourceCheckIndex {}; ///< it has no states

template <class P> struct SourceCheckOf {
    PointId at = 0;
    P capacity = 0; ///< m3 s-1 Pa-1/2, > 0

    using Index = SourceCheckIndex;
    struct Joined : Index {
        PortOf<P> point;
        std::size_t source = 0, meter = 0;
    };

    /// Equation (27), m3/s.
    template <class S> S flow(S source, S point) const {
        return capacity * drop_root(beyond(S(source - point), check_span), large_passage_knee);
    }

    void join(Joined& to, const LineOf<P>& line) const {
        to.point = line.points[at];
        to.source = line.source;
        to.meter = line.supply_meter;
    }

    template <class On> void visit_storages(const On&, const Joined&) const {}

    template <class On> void visit(On& on, const Joined& to) const {
        on(reads(to.source, to.point.pressure), writes(to.meter, to.point.pressure),
           [this, per_point = to.point.per_volume](auto source, auto p) {
               const auto q = this->flow(source, p);
               return rates(q, q * per_point);
           });
    }

    static constexpr auto fields(auto& of) { return std::tie(of.at, of.capacity); }
    bool operator==(const SourceCheckOf&) const = default;
};
using SourceCheck = SourceCheckOf<double>;

} // namespace needleturn::models
