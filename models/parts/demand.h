/// Demand: where water leaves the line.
///
///     outlet:  q = C(t) root(p+)  openings to the open air; p+ = p above 0, next to nothing below     (18)
///     draw:    q = Q(t) s(p)      a fixed flow whatever the pressure; s = 1 above 20 kPa, 0 at 0      (19)
///
/// p gauge, Pa. Root: equation (1). A draw must give way as the pressure vanishes: a consumer does not suck. Nor does water
/// come back through an outlet; what air it then lets in is not modelled.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/smooth.h"
#include "models/laws/storage.h"
#include "models/line.h"
#include "models/names.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <string>
#include <tuple>

namespace needleturn::models {

struct Outlet {
    /// Pa, over which p+ turns from 0 to p: a thousandth of a millimetre of water. An empty line without supply rests on
    /// that corner, and a sharp one is a different equation at every rounding error. Wide beside the rounding of pressures
    /// (1e-10 Pa), and narrow enough that what seeps in under suction is 5e-6 of the flow at 4 bar.
    static constexpr double corner = 1e-2;

    /// Equation (18), m3/s.
    template <class S> S flow(S capacity, S pressure) const {
        return capacity * drop_root(above_zero(pressure, corner), large_passage_knee);
    }
    /// The capacity that passes `flow` at `pressure` (Pa, > 0).
    static double capacity_for(double flow, double pressure) { return flow / Outlet{}.flow(1.0, pressure); }
};

struct Draw {
    static constexpr double full_above = 20e3; ///< Pa
    /// Equation (19), m3/s.
    template <class S> S flow(S wanted, S pressure) const {
        return wanted * smooth_step(pressure - full_above / 2, full_above / 2);
    }
};

/// Where the pressure of its point, what is wanted of it (a drive) and its meter are among the values.
struct DemandIndex {
    std::size_t pressure = 0, meter = 0, wanted = 0;
};

/// Where water leaves the line.
template <class P> struct DemandPointOf {
    std::string name = "demand";
    PointId at = 0;
    bool draws = false; ///< a draw rather than outlets to the open air

    using Index = DemandIndex;
    struct Joined : Index {
        PortOf<P> point;
    };

    /// Delivered, m3/s; `wanted` is the capacity of the outlets, or the flow of the draw.
    template <class S> S flow(S wanted, S pressure) const {
        return draws ? Draw{}.flow(wanted, pressure) : Outlet{}.flow(wanted, pressure);
    }

    void name_meters(Index& index, Names& names) const {
        index.meter = names.add(name + "_meter.volume", "m3", 1e-2,
                                "volume delivered to " + name + " since the start", Role::meter);
    }
    /// The name of its drive.
    std::string drive() const { return name + (draws ? ".wanted" : ".capacity"); }
    void name_drives(Index& index, Names& names) const {
        index.wanted =
            draws ? names.add(drive(), flow_unit, 1e-2, "flow that " + name + " draws")
                  : names.add(drive(), capacity_unit, 1e-5, "capacity of the open outlets of " + name);
    }
    void name_signals(Names& names) const {
        names.add(name + ".flow", flow_unit, 1e-2, "flow delivered to " + name);
    }
    template <class T> void observe(const Joined& index, const T* value, T*& out) const {
        *out++ = flow(value[index.wanted], value[index.pressure]);
    }

    void join(Joined& index, const LineOf<P>& line) const {
        index.point = line.points[at];
        index.pressure = index.point.pressure;
    }

    template <class On> void visit_storages(const On&, const Joined&) const {}

    template <class On> void visit(On& on, const Joined& index) const {
        const P per_point = index.point.per_volume;
        const auto of = reads(index.pressure, index.wanted);
        const auto to = writes(index.pressure, index.meter);
        if (draws)
            on(of, to, [per_point](auto p, auto wanted) {
                const auto q = Draw{}.flow(wanted, p);
                return rates(-q * per_point, q);
            });
        else
            on(of, to, [per_point](auto p, auto capacity) {
                const auto q = Outlet{}.flow(capacity, p);
                return rates(-q * per_point, q);
            });
    }

    static constexpr auto fields(auto& of) { return std::tie(of.name, of.at, of.draws); }
    bool operator==(const DemandPointOf&) const = default;
};
using DemandPoint = DemandPointOf<double>;

} // namespace needleturn::models
