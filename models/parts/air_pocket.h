/// Air at a point, behind an opening: caught in the pipe, or in the bladder of an expansion vessel.
///
///     dV/dt = -q,   p = p_atm (V_free / V)^n - p_atm,   q = C root(p_point - p)                                 (22)
///
/// The bladder of a vessel that has given all its water fills the vessel. It then lies on the wall, which carries what
/// the water no longer does: 1 bar for a thousandth of the volume. Polytropic air: models/laws/air.h.
#pragma once

#include "models/laws/air.h"
#include "models/laws/restriction.h"
#include "models/laws/smooth.h"
#include "models/laws/storage.h"
#include "models/line.h"
#include "models/names.h"
#include "sim/contract/model.h"

#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Where its state is among the values: its pressure, stored as its volume.
struct AirPocketIndex {
    std::size_t air = 0;
};

template <class P> struct AirPocketOf {
    std::string name = "air_pocket";
    PointId at = 0;
    P free_air = 0;                         ///< m3 at atmospheric pressure, > 0
    P index = 1.2;                          ///< n
    P capacity = 0;                         ///< C, of the opening, m3 s-1 Pa-1/2, > 0
    std::optional<P> vessel = std::nullopt; ///< m3, its volume; none: no vessel

    using Index = AirPocketIndex;
    struct Joined : Index {
        PortOf<P> point;
    };

    /// Gauge pressure, Pa, of the air compressed to `volume`, m3.
    template <class S> S pressure(S volume) const {
        using std::pow;
        S gas = atmospheric_pressure * (pow(free_air / volume, index) - 1.0);
        if (!vessel)
            return gas;
        constexpr double wall = 1e5 / 1e-3; // Pa
        constexpr double touch = 1e-4;      // of the volume, over which the bladder comes to lie on the wall
        return gas - wall * beyond(S(volume / *vessel - 1.0), touch);
    }

    /// The inverse: volume, m3, in which the air stands at a gauge pressure above -atmospheric_pressure, Pa.
    double volume_at(double pressure_gauge) const {
        double low = 0, high = air_volume(free_air, pressure_gauge, index); // what it would be without a wall
        if (!vessel)
            return high;
        constexpr int halvings = 60;
        for (int half = 0; half < halvings; ++half) {
            const double middle = 0.5 * (low + high);
            (pressure(middle) > pressure_gauge ? low : high) = middle;
        }
        return high;
    }

    /// Through the opening into the air's room, m3/s.
    template <class S> S flow(S point, S air) const {
        return capacity * drop_root(point - air, small_passage_knee);
    }

    void name_states(Index& to, Names& names, LineOf<P>& line) const {
        names.part = spoken(name);
        to.air = names.add(name + ".pressure", pascal, free_air,
                           "pressure of the air at " + line.names[at] + "; stored as its volume, m3");
    }

    void join(Joined& to, const LineOf<P>& line) const { to.point = line.points[at]; }

    template <class On> void visit_storages(const On& on, const Joined& to) const { on(to.air, *this); }

    template <class On> void visit(On& on, const Joined& to) const {
        on(reads(to.point.pressure, to.air), writes(to.point.pressure, to.air),
           [this, per_point = to.point.per_volume](auto p, auto air) {
               const auto q = this->flow(p, air);
               return rates(-q * per_point, -q);
           });
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.name, of.at, of.free_air, of.index, of.capacity, of.vessel);
    }
    bool operator==(const AirPocketOf&) const = default;
};
using AirPocket = AirPocketOf<double>;

} // namespace needleturn::models
