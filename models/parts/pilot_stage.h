/// A pilot-operated stage between two points of the line, the station's inlet and outlet unless it is of a first step: how main
/// valve, cover, restriction, speed controls, pilot and sensing line hang together.
///
///     inlet -[cock]- body -=main trim=- valve outlet -[cock]- outlet
///     body -restriction- tee -speed controls- cover
///     tee -pilot- valve outlet -sensing line- chamber under the pilot
///     tee -pilot-sustaining pilot- valve outlet, where there is one; the body under its diaphragm
///     night setting, where there is one: eases the pilot's spring while little enters the body
///
/// A pilot of another kind is a part like PilotOf, with the same functions, given as `Pilot`.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/storage.h"
#include "models/line.h"
#include "models/names.h"
#include "models/parts/bleed.h"
#include "models/parts/cock.h"
#include "models/parts/cover.h"
#include "models/parts/cover_line.h"
#include "models/parts/diaphragm.h"
#include "models/parts/leaks.h"
#include "models/parts/main_valve.h"
#include "models/parts/night_setting.h"
#include "models/parts/pilot.h"
#include "models/parts/sensing_line.h"
#include "models/parts/speed_control.h"
#include "models/parts/sustaining_pilot.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

namespace needleturn::models {

/// Where its states and drives are among the values.
template <class PilotIndex> struct PilotStageIndex : MainValveIndex,
                                                     CoverIndex,
                                                     PilotIndex,
                                                     SustainingPilotIndex,
                                                     NightSettingIndex,
                                                     SensingLineIndex,
                                                     SpeedControlIndex,
                                                     StageCocksIndex,
                                                     BleedIndex {
    std::size_t tee = 0;        ///< state: pressure where restriction, pilot and cover line meet
    std::size_t cover_line = 0; ///< state: flow in that line, only where it has inertia
    std::size_t room =
        0; ///< lift that the cover's room goes by: the stem's, or the mean place of a diaphragm that gives
};

template <class P, template <class> class Pilot = PilotOf> struct PilotStageOf {
    std::string name = "main";
    MainValveOf<P> valve;
    std::optional<DiaphragmOf<P>> diaphragm = std::nullopt; ///< absent: it moves as the stem does
    CoverOf<P> cover;
    P restriction_capacity = 0; ///< fixed restriction, m3 s-1 Pa-1/2, > 0
    StorageOf<P> tee;
    SpeedControlOf<P> opening_control;
    SpeedControlOf<P> closing_control;
    std::optional<CoverLineOf<P>> cover_line = std::nullopt; ///< absent: its water has no inertia
    Pilot<P> pilot;
    std::optional<SustainingPilotOf<P>> sustaining = std::nullopt; ///< absent: nothing holds the inlet
    std::optional<NightSettingOf<P>> night = std::nullopt;         ///< absent: one setting, whatever flows
    SensingLineOf<P> sensing_line;
    StorageOf<P> sensing_chamber;
    StageCocksOf<P> cocks;
    std::optional<BleedOf<P>> bleed = std::nullopt; ///< absent: nothing to crack
    StageLeaksOf<P> leaks;

    static constexpr bool is_stage = true;
    using Index = PilotStageIndex<typename Pilot<P>::Index>;
    struct Joined : Index, StagePortsOf<P> {
        PortOf<P> tee_port, chamber_port;
    };

    /// From the body to the tee, m3/s: equation (1).
    template <class S> S restriction_flow(S p1, S p_tee) const {
        return restriction_capacity * drop_root(p1 - p_tee, small_passage_knee);
    }
    /// Into the body, m3/s.
    template <class S> S entering(S p1, S p_tee, S p2, S x) const {
        return valve.trim.flow(p1, p2, x) + restriction_flow(p1, p_tee);
    }
    /// Into the cover, m3/s, without a line: equation (12).
    template <class S> S flow_into_cover(S opening, S closing, S p_tee, S p_cover) const {
        return cover_flow(opening_control, opening, closing_control, closing, p_tee, p_cover);
    }

    /// Of a stage with a sustaining pilot, at rest: does that one decide how far the main valve opens? It does where it is less open
    /// than the reducing pilot and takes more than a tenth (chosen) of what there is between inlet and outlet: with less on it the
    /// cover drains as far as it would without. Lifts m, pressures Pa.
    bool sustains(double pilot_lift, double sustaining_lift, double inlet, double p_tee, double out) const {
        const double reducing = pilot.open_capacity(pilot_lift);
        const double on_it = sustaining->between(reducing, sustaining_lift, p_tee, out) - out;
        return sustaining->open_capacity(sustaining_lift) < reducing && on_it > 0.1 * (inlet - out);
    }

    /// The same of the values of a steady state.
    bool sustains(const Index& at, const double* value) const {
        return sustains(value[at.pilot_lift], value[at.sustaining_lift], value[at.body], value[at.tee],
                        value[at.valve_outlet]);
    }

    void name_states(Index& at, Names& names, LineOf<P>& line) const {
        valve.name_states(at, names, name);
        at.room = diaphragm ? diaphragm->name_state(names, name, valve.full_lift) : at.lift;
        cover.name_states(at, names, name);
        names.part = name + " tee";
        at.tee = names.add(name + ".tee_pressure", pascal, bar,
                           "pressure at the tee of restriction, pilot and cover line");
        if (cover_line)
            at.cover_line = cover_line->name_state(names, name);
        pilot.name_states(at, names, name);
        if (sustaining)
            sustaining->name_states(at, names, name);
        if (night)
            night->name_state(at, names, name);
        sensing_line.name_states(at, names, name);
        cocks.name_states(at, names, name, line);
    }

    void name_meters(Index& at, Names& names) const {
        names.part = name + " bleed";
        if (bleed)
            bleed->name_meter(at, names, name);
        if (bleed || leaks.pilot_diaphragm)
            at.spilt = names.add(name + "_bleed.water", "m3", 1e-4,
                                 "water lost to the open air at the stage since the start", Role::meter);
    }

    void name_drives(Index& at, Names& names) const {
        pilot.name_drives(at, names, name);
        if (sustaining)
            sustaining->name_drives(at, names, name);
        name_speed_controls(at, names, name);
        cocks.name_drives(at, names, name);
        if (bleed)
            bleed->name_drive(at, names, name);
    }

    void name_signals(Names& names) const {
        names.add(name + ".flow", flow_unit, 1e-2, "flow through the main trim");
        names.add(name + ".restriction_flow", flow_unit, 1e-4,
                  "flow through the fixed restriction, inlet to tee");
        names.add(name + ".pilot_flow", flow_unit, 1e-4, "flow through the pilot, tee to outlet");
        names.add(name + ".cover_flow", flow_unit, 1e-4, "flow into the cover");
        cover.name_signals(names, name);
        if (sustaining)
            sustaining->name_signals(names, name);
        if (night)
            night->name_signals(names, name);
    }

    /// What name_signals names, from the values, in the same order.
    template <class T> void observe(const Joined& at, const T* value, T*& out) const {
        const T p1 = value[at.body], p2 = value[at.valve_outlet];
        *out++ = valve.trim.flow(p1, p2, value[at.lift]);
        *out++ = restriction_flow(p1, value[at.tee]);
        const T reducing = pilot.open_capacity(value[at.pilot_lift]);
        *out++ =
            pilot.flow(sustaining ? sustaining->through_both(reducing, value[at.sustaining_lift]) : reducing,
                       value[at.tee], p2);
        *out++ = cover_line
                     ? value[at.cover_line]
                     : flow_into_cover(value[at.opening], value[at.closing], value[at.tee], value[at.cover]);
        cover.observe(at, value, out);
        if (sustaining)
            *out++ = sustaining->between(reducing, value[at.sustaining_lift], value[at.tee], p2);
        if (night)
            *out++ = value[at.set] - night->eased(value[at.day_share], value[at.set]);
    }

    void join(Joined& at, const LineOf<P>& line) const {
        cocks.join(at, at, line);
        at.tee_port = tee.port(at.tee);
        at.chamber_port = sensing_chamber.port(at.sensed);
    }

    template <class On> void visit_storages(const On& on, const Joined& at) const {
        on(at.tee, tee);
        on(at.sensed, sensing_chamber);
        cocks.visit_storages(on, at);
    }

    template <class On> void visit(On& on, const Joined& at) const {
        const auto& body = at.body_port;
        const auto& outlet = at.valve_outlet_port;
        const P per_tee = at.tee_port.per_volume;
        cocks.visit(on, at, at);
        valve.visit(on, at, body, outlet, at.cover);
        on(reads(body.pressure, at.tee), writes(body.pressure, at.tee),
           [this, per_body = body.per_volume, per_tee](auto p1, auto p_tee) {
               const auto q = this->restriction_flow(p1, p_tee);
               return rates(-q * per_body, q * per_tee);
           });
        visit_cover_flow(on, at);
        if (diaphragm)
            diaphragm->visit(on, at.lift, at.speed, at.room, cover, at, outlet);
        cover.visit(on, at, at.room);
        visit_pilot_flow(on, at);
        pilot.visit(on, at, at.tee_port, outlet, at.chamber_port);
        if (sustaining)
            sustaining->visit(on, at, body);
        if (night)
            visit_night_setting(on, at);
        sensing_line.visit(on, at, outlet, at.chamber_port);
        if (bleed)
            bleed->visit(on, at, cover, at, at.room);
        leaks.visit(on, body, outlet, cover, at, at.room, at.chamber_port, at.spilt);
    }

    /// What flows from the tee to the outlet.
    template <class On> void visit_pilot_flow(On& on, const Joined& at) const {
        const auto& out = at.valve_outlet_port;
        const P per_tee = at.tee_port.per_volume, per_out = out.per_volume;
        if (!sustaining)
            return on(reads(at.tee, out.pressure, at.pilot_lift), writes(at.tee, out.pressure),
                      [this, per_tee, per_out](auto p_tee, auto p2, auto y) {
                          const auto q = pilot.flow(pilot.open_capacity(y), p_tee, p2);
                          return rates(-q * per_tee, q * per_out);
                      });
        on(reads(at.tee, out.pressure, at.pilot_lift, at.sustaining_lift), writes(at.tee, out.pressure),
           [this, per_tee, per_out](auto p_tee, auto p2, auto y, auto sustaining_y) {
               const auto open = sustaining->through_both(pilot.open_capacity(y), sustaining_y);
               const auto q = pilot.flow(open, p_tee, p2);
               return rates(-q * per_tee, q * per_out);
           });
    }

    /// Equations (73) and (74).
    template <class On> void visit_night_setting(On& on, const Joined& at) const {
        on(reads(at.body_port.pressure, at.tee, at.valve_outlet_port.pressure, at.lift, at.day_share),
           writes(at.day_share), [this](auto p1, auto p_tee, auto p2, auto x, auto share) {
               return rates((night->day_share(this->entering(p1, p_tee, p2, x)) - share) / night->lag);
           });
        on(reads(at.day_share, at.set), writes(at.pilot_speed), [this](auto share, auto set) {
            return rates(-pilot.spring_acceleration(night->eased(share, set)));
        });
    }

    /// What flows between tee and cover.
    template <class On> void visit_cover_flow(On& on, const Joined& at) const {
        const P per_tee = at.tee_port.per_volume;
        if (!cover_line)
            return on(reads(at.tee, at.cover, at.room, at.speed, at.air, at.opening, at.closing),
                      writes(at.tee, at.cover),
                      [this, per_tee](auto p_tee, auto p_cover, auto x, auto v, auto air, auto opening,
                                      auto closing) {
                          const auto q = this->flow_into_cover(opening, closing, p_tee, p_cover);
                          return rates(-q * per_tee, cover.pressure_rate(p_cover, x, air, q, v));
                      });
        on(reads(at.cover_line, at.tee, at.cover, at.room, at.speed, at.air, at.opening, at.closing),
           writes(at.cover_line, at.tee, at.cover),
           [this, per_tee](auto q, auto p_tee, auto p_cover, auto x, auto v, auto air, auto opening,
                           auto closing) {
               using S = decltype(q);
               const S drop = p_tee - p_cover;
               const S capacity = cover_capacity(opening_control, opening, closing_control, closing, drop);
               return rates(cover_line->flow_rate(q, drop, capacity), -q * per_tee,
                            cover.pressure_rate(p_cover, x, air, q, v));
           });
    }

    /// Where it rests between steady pressures, by square-root laws alone: a guess. `drive(place)` is a drive's value.
    template <class Drive> StageRest rest(const Index& at, const Drive& drive, double p1, double p2) const {
        const double set = drive(at.set);
        return cocks.rest(at, drive, p1, p2, [&](double body, double out) {
            StageRest rest;
            rest.body = body;
            rest.valve_outlet = out;
            rest.pilot_lift = pilot.steady_lift(set, out, valve.opening_cover_pressure(body, out));
            double drain = pilot.capacity_at(rest.pilot_lift);
            if (sustaining) {
                rest.sustaining_lift = sustaining->steady_lift(drive(at.sustained), body);
                drain = sustaining->through_both(drain, rest.sustaining_lift);
            }
            // The tee between restriction and pilots: equal flows through all.
            const double fill = restriction_capacity;
            rest.cover = (fill * fill * body + drain * drain * out) / (fill * fill + drain * drain);
            rest.lift = valve.steady_lift(body, out, rest.cover);
            rest.flow = entering(body, rest.cover, out, rest.lift);
            return rest;
        });
    }
    /// The same as states, as stored.
    void put_rest(const Index& at, const StageRest& rest, double free_air, std::vector<double>& y) const {
        y[at.lift] = rest.lift;
        if (diaphragm)
            y[at.room] = diaphragm->steady_place(rest.lift, rest.cover, rest.valve_outlet);
        y[at.cover] = rest.cover;
        cover.put_free_air(at, free_air, y.data());
        y[at.tee] = tee.virtual_pressure(rest.cover);
        y[at.pilot_lift] = rest.pilot_lift;
        if (sustaining)
            y[at.sustaining_lift] = rest.sustaining_lift;
        if (night)
            y[at.day_share] = night->day_share(rest.flow);
        y[at.sensed] = sensing_chamber.virtual_pressure(rest.valve_outlet);
        cocks.put_rest(at, rest, y);
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.name, of.valve, of.diaphragm, of.cover, of.restriction_capacity, of.tee,
                        of.opening_control, of.closing_control, of.cover_line, of.pilot, of.sustaining,
                        of.night, of.sensing_line, of.sensing_chamber, of.cocks, of.bleed, of.leaks);
    }
    bool operator==(const PilotStageOf&) const = default;
};
using PilotStage = PilotStageOf<double>;

} // namespace needleturn::models
