/// Pilot: a small spring-and-diaphragm valve that lets the cover drain to the outlet. States: pilot lift y
/// and speed w, and where there is dry friction its own.
///
///     dy/dt = w                                                                                       (13)
///     m dw/dt = A_p (p_set - p_s) - k y - c w - F - F_o + F_seat(-y, -w) - F_stop(y - y_full, w)      (14)
///     q_pilot = C_full (y / y_full) root(p_t - p2)                                                    (15)
///
/// The adjusting screw presses the spring by A_p p_set when the pilot is shut: p_set is the sensed pressure
/// p_s at which it just shuts, the static set pressure. Each pascal the outlet falls below it opens the pilot
/// by A_p / k. F is the dry friction of models/parts/stem_friction.h, F_o the force of the drop on a seat that is not balanced
/// (models/parts/unbalanced_seat.h). A force balance, no outside source.
#pragma once

#include "models/laws/contact.h"
#include "models/laws/restriction.h"
#include "models/laws/smooth.h"
#include "models/laws/stem.h"
#include "models/laws/storage.h"
#include "models/names.h"
#include "models/parts/stem_friction.h"
#include "models/parts/unbalanced_seat.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <optional>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Where its states are among the values, and its drive.
struct PilotIndex {
    std::size_t pilot_lift = 0, pilot_speed = 0, set = 0;
    std::size_t pilot_presliding = 0; ///< only with friction
};

template <class P> struct PilotOf {
    using Index = PilotIndex;

    P capacity = 0;                                                    ///< C_full, m3 s-1 Pa-1/2, > 0
    P full_lift = 0;                                                   ///< y_full, m, > 0
    P diaphragm_area = 0;                                              ///< A_p, m2, > 0
    P spring_rate = 0;                                                 ///< k, N/m, > 0
    P moving_mass = 0;                                                 ///< m, kg, > 0
    P stem_damping = 0;                                                ///< c, N s/m, >= 0
    std::optional<StemFrictionOf<P>> friction = std::nullopt;          ///< absent: nothing sticks
    std::optional<UnbalancedSeatOf<P>> unbalanced_seat = std::nullopt; ///< absent: its seat is balanced
    ContactOf<P> seat;
    ContactOf<P> stop;

    /// Equation (14) without F and F_o, divided by m, m/s2.
    template <class S> S acceleration(S y, S w, S set, S sensed) const {
        return sprung_acceleration(*this, y, w, set, sensed);
    }

    /// What so much more set pressure, Pa, gives the stem, m/s2.
    template <class S> S spring_acceleration(S more) const {
        const P seat_area = unbalanced_seat ? unbalanced_seat->area : P(0);
        return (diaphragm_area - seat_area) / moving_mass * more;
    }

    /// C_full y / y_full of (15), m3 s-1 Pa-1/2.
    template <class S> S open_capacity(S y) const { return pilot_opening(*this, y); }
    /// Equation (15), m3/s, positive from the tee to the outlet, of a pilot with this much open.
    template <class S> static S flow(S open, S tee, S outlet) {
        return open * drop_root(tee - outlet, small_passage_knee);
    }

    /// The lift, m, at which the pilot rests with these sensed and tee pressures, and what it then passes per root of its drop.
    double steady_lift(double set, double sensed, double tee) const {
        const double closing =
            unbalanced_seat ? unbalanced_seat->force(tee - sensed, set) / diaphragm_area : 0;
        return sprung_lift(diaphragm_area, set - sensed - closing, spring_rate, full_lift);
    }
    double capacity_at(double lift) const { return capacity * lift / full_lift; }
    /// How far below the set pressure, Pa, the sensed one is at this lift, where the tee is `below` (Pa) the inlet.
    double fall_off(double lift, double below) const {
        const double seat_area = unbalanced_seat ? unbalanced_seat->area : 0;
        return (spring_rate * lift - seat_area * below) / (diaphragm_area - seat_area);
    }

    void name_states(PilotIndex& at, Names& names, const std::string& stage) const {
        names.part = stage + " pilot";
        at.pilot_lift = names.add(stage + ".pilot_lift", "m", full_lift / 10, "pilot lift, opening");
        at.pilot_speed = names.add(stage + ".pilot_speed", "m s-1", full_lift / stroke_time * 10,
                                   "pilot stem speed, opening");
        if (friction)
            at.pilot_presliding = friction->name_state(names, stage + ".pilot");
    }
    void name_drives(PilotIndex& at, Names& drives, const std::string& stage) const {
        at.set = drives.add(stage + ".set_pressure", pascal, bar, "static set pressure of the pilot");
    }

    /// Its stem, between tee and outlet; what flows through it is the stage's. `sensed` is the chamber under its diaphragm.
    template <class On> void visit(On& on, const PilotIndex& at, const PortOf<P>& tee, const PortOf<P>& out,
                                   const PortOf<P>& sensed) const {
        const P per_chamber = sensed.per_volume;
        // Equation (13), and what the diaphragm displaces.
        on(reads(at.pilot_speed), writes(at.pilot_lift, sensed.pressure),
           [this, per_chamber](auto w) { return rates(w, diaphragm_area * w * per_chamber); });
        on(reads(at.pilot_lift, at.pilot_speed, at.set, sensed.pressure), writes(at.pilot_speed),
           [this](auto y, auto w, auto set, auto p_sensed) {
               return rates(this->acceleration(y, w, set, p_sensed));
           });
        if (unbalanced_seat)
            unbalanced_seat->visit(on, tee, out, at.pilot_speed, at.set, moving_mass);
        if (friction)
            friction->visit(on, at.pilot_speed, at.pilot_presliding, moving_mass);
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.capacity, of.full_lift, of.diaphragm_area, of.spring_rate, of.moving_mass,
                        of.stem_damping, of.friction, of.unbalanced_seat, of.seat, of.stop);
    }
    bool operator==(const PilotOf&) const = default;
};
using Pilot = PilotOf<double>;

} // namespace needleturn::models
