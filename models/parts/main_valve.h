/// Main valve: the stem with its disc and diaphragm. States: lift x and stem speed v, and where there is dry friction its own.
///
///     dx/dt = v                                                                                       (6)
///     m dv/dt = A_s p1 + (A - A_s) p2 - A p_c - (F_0 + k x) - m g
///               - c v - F - F_jet + F_seat(-x, -v) - F_stop(x - x_full, v)                            (7)
///
/// and what the moving stem displaces, as flows out of inlet, outlet and cover:
///
///     A_s v,   (A - A_s) v,   -A v                                                                    (7a)
///
/// (7a) makes the power of the pressures on the stem equal to that of the displaced water, and so the water
/// balance of the station close. Forces are positive opening; p1 inlet, p2 outlet and p_c cover pressure, Pa
/// gauge. Inlet pressure lifts the disc over the seat area A_s, outlet pressure the rest of the diaphragm A
/// from below, cover pressure closes; the stem stands upright. A force balance, no outside source;
/// A is the effective area (46) of models/laws/stem.h, F the dry friction of models/parts/stem_friction.h.
///
///     F_jet = rho q u cos(theta),   u = sqrt(2 (p1 - p2) / rho)                                       (47)
///
/// closes: the force of the jet that leaves under the rim at the angle theta to the stem, by momentum. With q = C root(p1 - p2)
/// of (3), and its limited drop, it is sqrt(2 rho) cos(theta) C(x) root^2. 69 degrees is the free jet of an inviscid liquid at
/// the edge of a spool (von Mises; Lee and Blackburn 1952; from memory); the angle of a disc over a seat is another, and no
/// maker states it. Taken to close whichever way the water runs, as of spools. Left out: the momentum with which water comes up
/// the seat's bore, which lifts (a third of it at 10 L/s through the generic DN65), and that of water that speeds up or slows down.
#pragma once

#include "models/laws/contact.h"
#include "models/laws/gravity.h"
#include "models/laws/stem.h"
#include "models/laws/storage.h"
#include "models/laws/trim.h"
#include "models/names.h"
#include "models/parts/stem_friction.h"
#include "sim/contract/model.h"

#include <algorithm>
#include <cstddef>
#include <optional>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Where its states are among the values.
struct MainValveIndex {
    std::size_t lift = 0, speed = 0;
    std::size_t presliding = 0; ///< only with friction
};

template <class P> struct MainValveOf {
    P seat_area = 0;                                          ///< A_s, m2, > 0
    P diaphragm_area = 0;                                     ///< A_d, m2, effective when shut, > A_s
    P area_slope = 0;                                         ///< A', m2 per m of lift
    P full_lift = 0;                                          ///< x_full, m, > 0
    P moving_mass = 0;                                        ///< m, kg, > 0
    P spring_preload = 0;                                     ///< F_0, N, >= 0
    P spring_rate = 0;                                        ///< k, N/m, >= 0
    P stem_damping = 0;                                       ///< c, N s/m, >= 0
    std::optional<StemFrictionOf<P>> friction = std::nullopt; ///< absent: nothing sticks
    std::optional<P> jet = std::nullopt; ///< sqrt(2 rho) cos(theta), kg1/2 m-3/2; absent: no force of it
    TrimOf<P> trim;
    ContactOf<P> seat;
    ContactOf<P> stop;

    /// Force of the pressures on disc and diaphragm, N.
    template <class S> S pressure_force(S x, S p1, S p2, S cover) const {
        const S area = area_at(diaphragm_area, area_slope, x);
        return seat_area * p1 + (area - seat_area) * p2 - area * cover;
    }

    /// Equation (47), N, closing; only with a jet.
    template <class S> S jet_force(S x, S p1, S p2) const {
        const S root = trim.root_of_drop(p1, p2);
        return *jet * trim.capacity_at(x) * root * root;
    }

    /// Equation (7) without F and F_jet, divided by m, m/s2.
    template <class S> S acceleration(S x, S v, S p1, S p2, S cover) const {
        const S pressures = pressure_force(x, p1, p2, cover);
        const S spring = spring_preload + spring_rate * x + moving_mass * gravity;
        const S drag = stem_damping * v;
        const S contacts = seat.force(-x, -v) - stop.force(x - full_lift, v);
        return (pressures - spring - drag + contacts) / moving_mass;
    }
    /// Force, N, that is left to press the spring of a stem at rest: lift zero takes it all where the result is negative.
    double force_at_rest(double p1, double p2, double cover) const {
        return pressure_force(0.0, p1, p2, cover) - spring_preload - moving_mass * gravity;
    }
    /// The lift, m, at which a stem rests, but for the jet and what an area that shrinks does: that is no spring.
    double steady_lift(double p1, double p2, double cover) const {
        const double left = force_at_rest(p1, p2, cover);
        constexpr double weak_spring = 1e-3; // of the preload over the lift, for a valve without one
        const double rate = spring_rate + std::max(area_slope * (cover - p2), 0.0);
        return std::clamp(left / std::max(rate, weak_spring * left / full_lift), 0.0, full_lift);
    }
    /// The cover pressure, Pa, at which a seated stem is about to lift.
    double opening_cover_pressure(double p1, double p2) const {
        return (pressure_force(0.0, p1, p2, 0.0) - spring_preload - moving_mass * gravity) / diaphragm_area;
    }

    void name_states(MainValveIndex& at, Names& names, const std::string& stage) const {
        names.part = stage + " lift";
        at.lift = names.add(stage + ".lift", "m", full_lift / 10, "main valve lift, opening");
        at.speed = names.add(stage + ".stem_speed", "m s-1", full_lift / stroke_time,
                             "main valve stem speed, opening");
        if (friction)
            at.presliding = friction->name_state(names, stage + ".stem");
    }

    template <class On> void visit(On& on, const MainValveIndex& at, const PortOf<P>& in,
                                   const PortOf<P>& out, std::size_t cover) const {
        const auto p_in = in.pressure, p_out = out.pressure;
        const P per_in = in.per_volume, per_out = out.per_volume;
        on(reads(p_in, p_out, at.lift), writes(p_in, p_out),
           [this, per_in, per_out](auto p1, auto p2, auto x) {
               const auto q = trim.flow(p1, p2, x);
               return rates(-q * per_in, q * per_out);
           });
        // Equation (6), and what the stem displaces, (7a).
        on(reads(at.lift, at.speed), writes(at.lift, p_in, p_out), [this, per_in, per_out](auto x, auto v) {
            const auto area = area_at(diaphragm_area, area_slope, x);
            return rates(v, -seat_area * per_in * v, -(area - seat_area) * per_out * v);
        });
        on(reads(at.lift, at.speed, p_in, p_out, cover), writes(at.speed),
           [this](auto x, auto v, auto p1, auto p2, auto p_cover) {
               return rates(this->acceleration(x, v, p1, p2, p_cover));
           });
        if (jet)
            on(reads(at.lift, p_in, p_out), writes(at.speed),
               [this](auto x, auto p1, auto p2) { return rates(-this->jet_force(x, p1, p2) / moving_mass); });
        if (friction)
            friction->visit(on, at.speed, at.presliding, moving_mass);
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.seat_area, of.diaphragm_area, of.area_slope, of.full_lift, of.moving_mass,
                        of.spring_preload, of.spring_rate, of.stem_damping, of.friction, of.jet, of.trim,
                        of.seat, of.stop);
    }
    bool operator==(const MainValveOf&) const = default;
};
using MainValve = MainValveOf<double>;

} // namespace needleturn::models
