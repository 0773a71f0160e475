/// Air at a point, behind an opening: caught in the pipe, or in the bladder of an expansion vessel.
///
///     dV/dt = -q,   p = p_atm (V_free / V)^n - p_atm,   q = C root(p_point - p)                                 (22)
///
/// The bladder of a vessel that has given all its water fills the vessel. It then lies on the wall, which carries what
/// the water no longer does: 1 bar for a thousandth of the volume. Polytropic air: models/laws/air.h. Air that warms and cools has
/// one more state, its adiabatic volume, which then stands for V_free, and n is its ratio of specific heats:
/// models/parts/gas_heat.h.
#pragma once

#include "models/laws/air.h"
#include "models/laws/restriction.h"
#include "models/laws/smooth.h"
#include "models/laws/storage.h"
#include "models/line.h"
#include "models/names.h"
#include "models/parts/gas_heat.h"
#include "sim/contract/model.h"
#include "sim/contract/select.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

namespace needleturn::models {

/// Where its states are among the values.
struct AirPocketIndex {
    std::size_t air = 0;       ///< its pressure, stored as its volume; with heat the volume itself
    std::size_t adiabatic = 0; ///< adiabatic volume, only with heat
};

template <class P> struct AirPocketOf {
    std::string name = "air_pocket";
    PointId at = 0;
    P free_air = 0; ///< m3 at atmospheric pressure, > 0; with heat at the temperature of the walls, too
    P index = 1.2;  ///< n; with heat the ratio of specific heats
    P capacity = 0; ///< C, of the opening, m3 s-1 Pa-1/2, > 0
    std::optional<P> vessel = std::nullopt;          ///< m3, its volume; none: no vessel
    std::optional<GasHeatOf<P>> heat = std::nullopt; ///< absent: polytropic

    using Index = AirPocketIndex;
    struct Joined : Index {
        PortOf<P> point;
    };

    /// Gauge pressure, Pa, of the air in `volume`, m3, of which `free` would take up atmospheric pressure, by itself.
    template <class S, class F> S gas_pressure(S volume, F free) const {
        using std::pow;
        return atmospheric_pressure * (pow(free / volume, index) - 1.0);
    }

    /// The same with what a bladder on the wall leaves of it to the water.
    template <class S, class F> S pressure(S volume, F free) const {
        return beside_wall(gas_pressure(volume, free), volume);
    }
    template <class S> S pressure(S volume) const { return pressure(volume, free_air); }

    /// The inverse of a polytropic one: volume, m3, from the gauge pressure beside it, Pa.
    template <class S> S gas_volume(S pressure_gauge) const {
        using std::max;
        using std::min;
        using std::sqrt;
        const S free = air_volume(S(free_air), pressure_gauge, index); // what it would be without a wall
        if (!vessel)
            return free;
        // On the wall: each round brings the gas, which is some thousand times softer, nearer to its place by as much.
        S beyond_it(0.0);
        for (int round = 0; round < 4; ++round) {
            const S carried =
                max(S(gas_pressure(S(*vessel * (1.0 + beyond_it)), free_air) - pressure_gauge), S(0.0))
                / wall;
            beyond_it = either(
                carried > S(0.0), [&] { return S(0.5 * (carried + sqrt(carried * (carried + 4 * touch)))); },
                [] { return S(0.0); });
        }
        return min(free, S(*vessel * (1.0 + beyond_it)));
    }

    /// Volume, m3, in which the air rests at a gauge pressure above -atmospheric_pressure, Pa: with heat as warm as the walls.
    double volume_at(double pressure_gauge) const {
        const double slow = heat ? 1.0 : index;
        const auto rest = [&](double volume) {
            using std::pow;
            return beside_wall(atmospheric_pressure * (pow(free_air / volume, slow) - 1.0), volume);
        };
        double low = 0, high = air_volume(free_air, pressure_gauge, slow); // what it would be without a wall
        if (!vessel)
            return high;
        constexpr int halvings = 60;
        for (int half = 0; half < halvings; ++half) {
            const double middle = 0.5 * (low + high);
            (rest(middle) > pressure_gauge ? low : high) = middle;
        }
        return high;
    }

    /// As it rests at a gauge pressure, Pa: its states as stored.
    void put_rest(const Index& to, double pressure_gauge, std::vector<double>& y) const {
        const double volume = y[to.air] = volume_at(pressure_gauge);
        if (heat)
            y[to.adiabatic] =
                heat->at_wall(free_air, atmospheric_pressure * (free_air / volume - 1.0), index);
    }

    /// Through the opening into the air's room, m3/s.
    template <class S> S flow(S point, S air) const {
        return capacity * drop_root(point - air, small_passage_knee);
    }

    void name_states(Index& to, Names& names, LineOf<P>& line) const {
        names.part = spoken(name);
        if (!heat) {
            to.air = names.add(name + ".pressure", pascal, free_air,
                               "pressure of the air at " + line.names[at] + "; stored as its volume, m3");
            return;
        }
        to.air = names.add(name + ".gas_volume", "m3", free_air, "volume of the air at " + line.names[at]);
        to.adiabatic =
            names.add(name + ".adiabatic_volume", "m3", free_air,
                      "volume that the air would take at atmospheric pressure if it came there without heat");
    }

    void name_signals(Names& names) const {
        if (!heat) {
            names.add(name + ".gas_volume", "m3", free_air, "volume of the air");
            return;
        }
        names.add(name + ".pressure", pascal, bar, "pressure of the air, as the water beside it has it");
        names.add(name + ".gas_temperature", "K", 10, "temperature of the air");
    }

    /// What name_signals names, from the values, in the same order.
    template <class T> void observe(const Joined& to, const T* value, T*& out) const {
        const T air = value[to.air];
        if (!heat) {
            *out++ = gas_volume(air);
            return;
        }
        const T adiabatic = value[to.adiabatic];
        *out++ = pressure(air, adiabatic);
        *out++ = heat->temperature(adiabatic, at_wall(air, adiabatic));
    }

    void join(Joined& to, const LineOf<P>& line) const { to.point = line.points[at]; }

    template <class On> void visit_storages(const On& on, const Joined& to) const {
        if (!heat)
            on(to.air, *this);
    }

    template <class On> void visit(On& on, const Joined& to) const {
        const P per_point = to.point.per_volume;
        if (!heat) {
            on(reads(to.point.pressure, to.air), writes(to.point.pressure, to.air),
               [this, per_point](auto p, auto air) {
                   const auto q = this->flow(p, air);
                   return rates(-q * per_point, -q);
               });
            return;
        }
        on(reads(to.point.pressure, to.air, to.adiabatic), writes(to.point.pressure, to.air, to.adiabatic),
           [this, per_point](auto p, auto volume, auto adiabatic) {
               const auto q = this->flow(p, this->pressure(volume, adiabatic));
               return rates(-q * per_point, -q,
                            heat->rate(adiabatic, this->at_wall(volume, adiabatic), index));
           });
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.name, of.at, of.free_air, of.index, of.capacity, of.vessel, of.heat);
    }
    bool operator==(const AirPocketOf&) const = default;

  private:
    static constexpr double wall = 1e5 / 1e-3; // Pa
    static constexpr double touch = 1e-4; // of the volume, over which the bladder comes to lie on the wall

    template <class S> S beside_wall(S gas, S volume) const {
        return vessel ? S(gas - wall * beyond(S(volume / *vessel - 1.0), touch)) : gas;
    }

    template <class S> S at_wall(S volume, S adiabatic) const {
        return heat->at_wall(free_air, gas_pressure(volume, adiabatic), index);
    }
};
using AirPocket = AirPocketOf<double>;

} // namespace needleturn::models
