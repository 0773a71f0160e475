/// Direct-acting regulator: a spring opens the valve, the outlet pressure under the diaphragm closes it. States: lift x,
/// stem speed v, and where there is dry friction its own; the chamber under the diaphragm is a storage
/// (models/laws/storage.h) with pressure p_s.
///
///     dx/dt = v                                                                                       (30)
///     m dv/dt = A (p_set - p_s) - k x - c v - F - F_o + F_seat(-x, -v) - F_stop(x - x_full, v)        (31)
///     C_chamber db_s/dt = C_port root(p2 - p_s) + A v                                                 (32)
///     q = C(x) root(p1 - p2), with the choking of models/trim.h
///
/// With a line to the outlet the flow of the port in (32) is a state, by (16) of models/parts/sensing_line.h.
/// The adjusting screw presses the spring by A p_set when the valve is shut: p_set is the sensed pressure at which it
/// just shuts, the static set pressure. Each pascal the outlet falls below it opens the valve by A / k: that is its
/// fall-off. The sensing port throttles what the moving diaphragm displaces; that damps the stem, and a port too narrow
/// makes the regulator lag behind the pressure. F is the dry friction of models/parts/stem_friction.h. Forces are
/// positive opening, pressures Pa gauge. A force balance, no outside source. F_o is the force of the drop on the disc of a trim
/// that is not balanced (models/parts/unbalanced_seat.h). Not modelled: flow forces, the stem's own weight and a diaphragm area
/// that changes with lift.
#pragma once

#include "models/laws/contact.h"
#include "models/laws/restriction.h"
#include "models/laws/stem.h"
#include "models/laws/storage.h"
#include "models/laws/trim.h"
#include "models/line.h"
#include "models/names.h"
#include "models/parts/cock.h"
#include "models/parts/sensing_line.h"
#include "models/parts/stem_friction.h"
#include "models/parts/unbalanced_seat.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

namespace needleturn::models {

template <class P> struct DirectRegulatorOf {
    P diaphragm_area = 0;                                              ///< A, m2, effective, > 0
    P full_lift = 0;                                                   ///< x_full, m, > 0
    P moving_mass = 0;                                                 ///< m, kg, > 0
    P spring_rate = 0;                                                 ///< k, N/m, > 0
    P stem_damping = 0;                                                ///< c, N s/m, >= 0
    std::optional<StemFrictionOf<P>> friction = std::nullopt;          ///< absent: nothing sticks
    std::optional<UnbalancedSeatOf<P>> unbalanced_seat = std::nullopt; ///< absent: the trim is balanced
    P port_capacity = 0;                                               ///< C_port, m3 s-1 Pa-1/2, > 0
    TrimOf<P> trim;
    ContactOf<P> seat;
    ContactOf<P> stop;

    /// Equation (31) without F and F_o, divided by m, m/s2.
    template <class S> S acceleration(S x, S v, S set, S sensed) const {
        return sprung_acceleration(*this, x, v, set, sensed);
    }

    /// The flow of the port in (32), m3/s, positive towards the chamber.
    template <class S> S port_flow(S outlet, S sensed) const {
        return port_capacity * drop_root(outlet - sensed, small_passage_knee);
    }

    /// The lift, m, at which the spring balances a steady sensed pressure below the set pressure.
    double steady_lift(double set, double sensed, double inlet) const {
        const double closing =
            unbalanced_seat ? unbalanced_seat->force(inlet - sensed, set) / diaphragm_area : 0;
        return sprung_lift(diaphragm_area, set - sensed - closing, spring_rate, full_lift);
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.diaphragm_area, of.full_lift, of.moving_mass, of.spring_rate, of.stem_damping,
                        of.friction, of.unbalanced_seat, of.port_capacity, of.trim, of.seat, of.stop);
    }
    bool operator==(const DirectRegulatorOf&) const = default;
};
using DirectRegulator = DirectRegulatorOf<double>;

/// Where the states and drives of a direct-acting stage are among the values.
struct DirectStageIndex : StageCocksIndex {
    std::size_t lift = 0, speed = 0, chamber = 0; ///< states
    std::size_t presliding = 0;                   ///< state, only with friction
    std::size_t sensing_flow = 0;                 ///< state, only with a sensing line
    std::size_t set = 0;                          ///< drive
};

/// One direct-acting stage, between the same points as a pilot-operated one: a bypass, an intermediate stage.
template <class P> struct DirectStageOf {
    std::string name = "bypass";
    DirectRegulatorOf<P> valve;
    StorageOf<P> chamber; ///< under the diaphragm, behind the sensing port
    /// With the losses of the port; absent: the port opens to the outlet.
    std::optional<SensingLineOf<P>> sensing_line = std::nullopt;
    StageCocksOf<P> cocks;

    static constexpr bool is_stage = true;
    using Index = DirectStageIndex;
    struct Joined : Index, StagePortsOf<P> {
        PortOf<P> chamber_port;
    };

    void name_states(Index& at, Names& names, LineOf<P>& line) const {
        names.part = name;
        at.lift = names.add(name + ".lift", "m", valve.full_lift / 10, "valve lift, opening");
        at.speed =
            names.add(name + ".stem_speed", "m s-1", valve.full_lift / stroke_time, "stem speed, opening");
        if (valve.friction)
            at.presliding = valve.friction->name_state(names, name + ".stem");
        at.chamber = names.add(name + ".sensed_pressure", pascal, bar, "pressure under the diaphragm");
        if (sensing_line)
            at.sensing_flow = names.add(name + ".sensing_flow", flow_unit, 1e-5,
                                        "flow in the sensing line, towards the diaphragm");
        cocks.name_states(at, names, name, line);
    }

    void name_drives(Index& at, Names& names) const {
        at.set = names.add(name + ".set_pressure", pascal, bar, "static set pressure");
        cocks.name_drives(at, names, name);
    }

    void name_signals(Names& names) const {
        names.add(name + ".flow", flow_unit, 1e-2, "flow through the trim");
    }
    template <class T> void observe(const Joined& at, const T* value, T*& out) const {
        *out++ = valve.trim.flow(value[at.body], value[at.valve_outlet], value[at.lift]);
    }

    void join(Joined& at, const LineOf<P>& line) const {
        cocks.join(at, at, line);
        at.chamber_port = chamber.port(at.chamber);
    }

    template <class On> void visit_storages(const On& on, const Joined& at) const {
        on(at.chamber, chamber);
        cocks.visit_storages(on, at);
    }

    template <class On> void visit(On& on, const Joined& at) const {
        const std::size_t p_body = at.body, p_out = at.valve_outlet;
        const P per_body = at.body_port.per_volume, per_out = at.valve_outlet_port.per_volume;
        const P per_chamber = at.chamber_port.per_volume;
        cocks.visit(on, at, at);
        on(reads(p_body, p_out, at.lift), writes(p_body, p_out),
           [this, per_body, per_out](auto p1, auto p2, auto x) {
               const auto q = valve.trim.flow(p1, p2, x);
               return rates(-q * per_body, q * per_out);
           });
        // Equation (30), and what the diaphragm displaces.
        on(reads(at.speed), writes(at.lift, at.chamber),
           [this, per_chamber](auto v) { return rates(v, valve.diaphragm_area * per_chamber * v); });
        on(reads(at.lift, at.speed, at.set, at.chamber), writes(at.speed),
           [this](auto x, auto v, auto set, auto sensed) {
               return rates(valve.acceleration(x, v, set, sensed));
           });
        if (valve.unbalanced_seat)
            valve.unbalanced_seat->visit(on, at.body_port, at.valve_outlet_port, at.speed, at.set,
                                         valve.moving_mass);
        if (valve.friction)
            valve.friction->visit(on, at.speed, at.presliding, valve.moving_mass);
        if (sensing_line)
            sensing_line->visit(on, {at.sensing_flow, at.chamber}, at.valve_outlet_port, at.chamber_port);
        else
            on(reads(p_out, at.chamber), writes(p_out, at.chamber),
               [this, per_out, per_chamber](auto p2, auto sensed) {
                   const auto q = valve.port_flow(p2, sensed);
                   return rates(-q * per_out, q * per_chamber);
               });
    }

    /// Where it rests between steady pressures: a guess. `drive(place)` is a drive's value.
    template <class Drive> StageRest rest(const Index& at, const Drive& drive, double p1, double p2) const {
        const double set = drive(at.set);
        return cocks.rest(at, drive, p1, p2, [&](double body, double out) {
            StageRest rest;
            rest.body = body;
            rest.valve_outlet = out;
            rest.lift = valve.steady_lift(set, out, body);
            rest.flow = valve.trim.flow(body, out, rest.lift);
            return rest;
        });
    }
    /// The same as states, as stored.
    void put_rest(const Index& at, const StageRest& rest, double, std::vector<double>& y) const {
        y[at.lift] = rest.lift;
        y[at.chamber] = chamber.virtual_pressure(rest.valve_outlet);
        cocks.put_rest(at, rest, y);
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.name, of.valve, of.chamber, of.sensing_line, of.cocks);
    }
    bool operator==(const DirectStageOf&) const = default;
};
using DirectStage = DirectStageOf<double>;

} // namespace needleturn::models
