/// Main valve: the stem with its disc and diaphragm. States: lift x and stem speed v, and where there is dry friction its own.
///
///     dx/dt = v                                                                                       (6)
///     m dv/dt = A_s p1 + (A_d - A_s) p2 - A_d p_c - (F_0 + k x) - m g
///               - c v - F + F_seat(-x, -v) - F_stop(x - x_full, v)                                    (7)
///
/// and what the moving stem displaces, as flows out of inlet, outlet and cover:
///
///     A_s v,   (A_d - A_s) v,   -A_d v                                                                (7a)
///
/// (7a) makes the power of the pressures on the stem equal to that of the displaced water, and so the water
/// balance of the station close. Forces are positive opening; p1 inlet, p2 outlet and p_c cover pressure, Pa
/// gauge. Inlet pressure lifts the disc over the seat area A_s, outlet pressure the rest of the diaphragm A_d
/// from below, cover pressure closes; the stem stands upright. A force balance, no outside source;
/// F is the dry friction of models/parts/stem_friction.h. Not modelled: flow forces on the disc (a fiftieth of A_s p1 at full flow), an
/// effective diaphragm area that changes with lift.
#pragma once

#include "models/laws/contact.h"
#include "models/laws/gravity.h"
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
    P diaphragm_area = 0;                                     ///< A_d, m2, effective, > A_s
    P full_lift = 0;                                          ///< x_full, m, > 0
    P moving_mass = 0;                                        ///< m, kg, > 0
    P spring_preload = 0;                                     ///< F_0, N, >= 0
    P spring_rate = 0;                                        ///< k, N/m, >= 0
    P stem_damping = 0;                                       ///< c, N s/m, >= 0
    std::optional<StemFrictionOf<P>> friction = std::nullopt; ///< absent: nothing sticks
    TrimOf<P> trim;
    ContactOf<P> seat;
    ContactOf<P> stop;

    /// Force of inlet and outlet pressure on disc and diaphragm, N.
    template <class S> S lifting_force(S p1, S p2) const {
        return seat_area * p1 + (diaphragm_area - seat_area) * p2;
    }

    /// Equation (7) without F, divided by m, m/s2.
    template <class S> S acceleration(S x, S v, S p1, S p2, S cover) const {
        const S pressures = lifting_force(p1, p2) - diaphragm_area * cover;
        const S spring = spring_preload + spring_rate * x + moving_mass * gravity;
        const S drag = stem_damping * v;
        const S contacts = seat.force(-x, -v) - stop.force(x - full_lift, v);
        return (pressures - spring - drag + contacts) / moving_mass;
    }
    /// Force, N, that is left to press the spring of a stem at rest: lift zero takes it all where the result is negative.
    double force_at_rest(double p1, double p2, double cover) const {
        return lifting_force(p1, p2) - diaphragm_area * cover - spring_preload - moving_mass * gravity;
    }
    /// The lift, m, at which a stem rests.
    double steady_lift(double p1, double p2, double cover) const {
        const double left = force_at_rest(p1, p2, cover);
        constexpr double weak_spring = 1e-3; // of the preload over the lift, for a valve without one
        return std::clamp(left / std::max(spring_rate, weak_spring * left / full_lift), 0.0, full_lift);
    }
    /// The cover pressure, Pa, at which a seated stem is about to lift.
    double opening_cover_pressure(double p1, double p2) const {
        return (lifting_force(p1, p2) - spring_preload - moving_mass * gravity) / diaphragm_area;
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
        on(reads(at.speed), writes(at.lift, p_in, p_out), [this, per_in, per_out](auto v) {
            return rates(v, -seat_area * per_in * v, -(diaphragm_area - seat_area) * per_out * v);
        });
        on(reads(at.lift, at.speed, p_in, p_out, cover), writes(at.speed),
           [this](auto x, auto v, auto p1, auto p2, auto p_cover) {
               return rates(this->acceleration(x, v, p1, p2, p_cover));
           });
        if (friction)
            friction->visit(on, at.speed, at.presliding, moving_mass);
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.seat_area, of.diaphragm_area, of.full_lift, of.moving_mass, of.spring_preload,
                        of.spring_rate, of.stem_damping, of.friction, of.trim, of.seat, of.stop);
    }
    bool operator==(const MainValveOf&) const = default;
};
using MainValve = MainValveOf<double>;

} // namespace needleturn::models
