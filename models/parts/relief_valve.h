/// Relief valve: a spring holds a disc on its seat, the pressure of the line lifts it, and water escapes to the open air. It hangs on
/// any point. States: lift x, speed v of the disc, positive opening.
///
///     dx/dt = v                                                                                       (60)
///     m dv/dt = A_s (p (1 + g h^2) - p_set) - k x - c v + F_seat(-x, -v) - F_stop(x - x_full, v)      (61)
///     q = C h root(p+)                                                                                (62)
///     h = x / x_full, 0 below the seat
///
/// p gauge, Pa; forces N. The spring is pressed by A_s p_set when the disc is shut: above p_set it begins to lift. Water that
/// escapes is turned round by the rim of the disc and presses on more of it than the seat, the more the wider it stands: an
/// effective area that grows with the lift is how relief valves are modelled (Hos, Champneys, Paul and McNeely, J. Loss Prev.
/// Process Ind. 31:70, 2014; from memory); that it grows with the square of the lift is chosen. At rest
///
///     p(h) = p_set (1 + kappa h) / (1 + g h^2),   kappa = k x_full / (A_s p_set)                      (63)
///
/// which rises from p_set to its greatest value and then falls: there the disc snaps to its full lift, and it snaps shut when the
/// pressure falls below p(1). `snap` finds kappa and g from the two, which is how such a valve is described: the overpressure o
/// at which it is fully open, p_set (1 + o), and the blow-down b, by which it shuts below the set pressure, p_set (1 - b).
///
/// On a line that loses nothing a swing of frequency w grows where the disc answers so late that it opens against the pressure. Of
/// small motions about a small lift (61) and (62) give the flow that follows a pressure with the conductance
/// ((q_full / x_full) A_s (k - m w^2) + A_s^2 c w^2) / |k - m w^2 + i c w|^2, which is positive at any w where
///
///     c > m q_full / (x_full A_s)                                                                     (64)
///
/// (q_full: flow at full lift); a valve with less buzzes at small lifts on a short stiff line. Derived here, no source.
///
/// (62) is the orifice law with the curtain between seat and disc as its area, a cylinder as high as the lift (chosen: the flow of
/// a full lift is stated, and between it grows in proportion); no choking, which rated flows know nothing of. A disc that lifts
/// leaves A_s v of room behind, which the line fills. Not modelled: back pressure in the pipe that leads the water away, the
/// momentum of the water that arrives, dry friction, leakage of a worn seat.
#pragma once

#include "models/laws/contact.h"
#include "models/laws/restriction.h"
#include "models/laws/smooth.h"
#include "models/laws/storage.h"
#include "models/line.h"
#include "models/names.h"
#include "models/parts/demand.h"
#include "sim/contract/model.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <tuple>
#include <vector>

namespace needleturn::models {

/// What makes a relief valve snap: (63).
struct ReliefSnap {
    double stiffness = 0; ///< kappa: the spring's further force at full lift over that on the shut disc
    double growth = 0;    ///< g: by how much of the seat's the area has grown at full lift

    /// From `overpressure` o > 0 and `blow_down` b in [0, 1), shares of the set pressure. That the greatest p(h) is 1 + o makes the
    /// two roots of (63) one, g = kappa^2 / D with D = 4 o (1 + o); p(1) = 1 - b is then a quadratic for kappa.
    static ReliefSnap of(double overpressure, double blow_down) {
        const double d = 4 * overpressure * (1 + overpressure), reseats = 1 - blow_down;
        const double stiffness = d * (1 + std::sqrt(1 + 4 * reseats * blow_down / d)) / (2 * reseats);
        return {stiffness, stiffness * stiffness / d};
    }
};

/// Where its states and its meter are among the values.
struct ReliefValveIndex {
    std::size_t lift = 0, speed = 0, meter = 0;
};

template <class P> struct ReliefValveOf {
    std::string name = "relief";
    PointId at = 0;
    P set_pressure = 0; ///< p_set, Pa gauge, > 0
    P seat_area = 0;    ///< A_s, m2, > 0
    P full_lift = 0;    ///< x_full, m, > 0
    P spring_rate = 0;  ///< k, N/m, > 0
    P growth = 0;       ///< g, >= 0
    P moving_mass = 0;  ///< m, kg, > 0
    P damping = 0;      ///< c, N s/m, >= 0
    P capacity = 0;     ///< C, m3 s-1 Pa-1/2, > 0, of the full lift, at the density of the water
    ContactOf<P> seat;
    ContactOf<P> stop;

    using Index = ReliefValveIndex;
    struct Joined : Index {
        PortOf<P> point;
    };

    /// Equation (64): the least damping, N s/m, with which the disc never feeds a swing of the line.
    static double calm_damping(double mass, double full_flow, double full_lift, double seat_area) {
        return mass * full_flow / (full_lift * seat_area);
    }

    /// Equation (61) divided by m, m/s2.
    template <class S> S acceleration(S x, S v, S p) const {
        using std::max;
        const S h = max(x, 0.0) / full_lift;
        const S drag = damping * v;
        return (seat_area * (p * (1.0 + growth * h * h) - set_pressure) - spring_rate * x - drag
                + seat.force(-x, -v) - stop.force(x - full_lift, v))
               / moving_mass;
    }

    /// Equation (62), m3/s. Exactly 0 on the seat and below.
    template <class S> S flow(S x, S p) const {
        constexpr double rim = 2e-6; // m, as of a main valve's trim
        return capacity * (beyond(x, rim) / full_lift)
               * drop_root(above_zero(p, Outlet::corner), large_passage_knee);
    }

    /// The lift, m, in which it rests at a steady pressure, Pa, that rose from below: the lower branch of (63).
    double steady_lift(double p) const {
        const double kappa = spring_rate * full_lift / (seat_area * set_pressure), ratio = p / set_pressure;
        if (!(ratio > 1))
            return 0;
        // ratio g h^2 - kappa h + ratio - 1 = 0, the lesser root
        const double root = kappa * kappa - 4 * ratio * growth * (ratio - 1);
        const double h = root < 0 ? 1.0 : 2 * (ratio - 1) / (kappa + std::sqrt(root));
        return std::min(h, 1.0) * full_lift;
    }

    void name_states(Index& to, Names& names, LineOf<P>& line) const {
        names.part = spoken(name);
        to.lift =
            names.add(name + ".lift", "m", full_lift / 10, "lift of the relief valve at " + line.names[at]);
        to.speed =
            names.add(name + ".speed", "m s-1", 10 * full_lift / stroke_time, "speed of its disc, opening");
    }
    void name_meters(Index& to, Names& names) const {
        to.meter = names.add(name + "_meter.volume", "m3", 1e-2,
                             "volume that " + name + " has let out since the start", Role::meter);
    }
    void name_signals(Names& names) const {
        names.add(name + ".flow", flow_unit, 1e-2, "flow through " + name + " to the open air");
    }
    template <class T> void observe(const Joined& to, const T* value, T*& out) const {
        *out++ = flow(value[to.lift], value[to.point.pressure]);
    }

    void join(Joined& to, const LineOf<P>& line) const { to.point = line.points[at]; }

    template <class On> void visit_storages(const On&, const Joined&) const {}

    template <class On> void visit(On& on, const Joined& to) const {
        const P per_point = to.point.per_volume;
        on(reads(to.lift, to.point.pressure), writes(to.point.pressure, to.meter),
           [this, per_point](auto x, auto p) {
               const auto q = this->flow(x, p);
               return rates(-q * per_point, q);
           });
        // Equation (60), and what the disc leaves behind.
        on(reads(to.speed), writes(to.lift, to.point.pressure),
           [this, per_point](auto v) { return rates(v, -seat_area * per_point * v); });
        on(reads(to.lift, to.speed, to.point.pressure), writes(to.speed),
           [this](auto x, auto v, auto p) { return rates(this->acceleration(x, v, p)); });
    }

    /// As it rests at a steady pressure, Pa: its states as stored.
    void put_rest(const Index& to, double pressure, std::vector<double>& y) const {
        y[to.lift] = steady_lift(pressure);
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.name, of.at, of.set_pressure, of.seat_area, of.full_lift, of.spring_rate,
                        of.growth, of.moving_mass, of.damping, of.capacity, of.seat, of.stop);
    }
    bool operator==(const ReliefValveOf&) const = default;
};
using ReliefValve = ReliefValveOf<double>;

} // namespace needleturn::models
