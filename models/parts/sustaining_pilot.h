/// Sustaining pilot: a second pilot in the way from the tee to the outlet, in series with the reducing one. The inlet pressure opens
/// it against its spring. When that falls below its setting it shuts; the cover then fills, and the main valve closes as far as it
/// must to hold the inlet, whatever the reducing pilot asks. States: its lift y and speed w.
///
///     dy/dt = w                                                                                       (70)
///     m dw/dt = A (p1 - p_set) - k y - c w + F_seat(-y, -w) - F_stop(y - y_full, w)                   (71)
///     C = series(C_reducing, C_full y / y_full),   q_pilot = C root(p_t - p2)                         (72)
///
/// p1: pressure between inlet cock and seat, Pa gauge, which stands under its diaphragm directly, without a line of its own; p_set:
/// at which the spring just holds it shut, the static setting. Each pascal the inlet is above that opens it by A / k. The water
/// between the two pilots stores nothing, so that one flow passes both, and squared losses in series add, as in (12); the force on
/// the seat of a reducing pilot that is not balanced is taken from the whole drop of both. Which of the two is ahead is then of
/// no matter. A force balance, no outside source.
#pragma once

#include "models/laws/contact.h"
#include "models/laws/stem.h"
#include "models/laws/storage.h"
#include "models/names.h"
#include "models/parts/pilot.h"
#include "sim/contract/model.h"

#include <cmath>
#include <cstddef>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Where its states are among the values, and its drive.
struct SustainingPilotIndex {
    std::size_t sustaining_lift = 0, sustaining_speed = 0, sustained = 0;
};

template <class P> struct SustainingPilotOf {
    P capacity = 0;       ///< C_full, m3 s-1 Pa-1/2, > 0
    P full_lift = 0;      ///< y_full, m, > 0
    P diaphragm_area = 0; ///< A, m2, > 0
    P spring_rate = 0;    ///< k, N/m, > 0
    P moving_mass = 0;    ///< m, kg, > 0
    P stem_damping = 0;   ///< c, N s/m, >= 0
    ContactOf<P> seat;
    ContactOf<P> stop;

    /// One that is built as a reducing pilot, of which friction and an open seat are left out.
    static SustainingPilotOf built_as(const PilotOf<P>& pilot) {
        return {pilot.capacity,    pilot.full_lift,    pilot.diaphragm_area, pilot.spring_rate,
                pilot.moving_mass, pilot.stem_damping, pilot.seat,           pilot.stop};
    }

    /// Equation (71) divided by m, m/s2.
    template <class S> S acceleration(S y, S w, S set, S inlet) const {
        return sprung_acceleration(*this, y, w, inlet, set);
    }

    /// C_full y / y_full of (72), m3 s-1 Pa-1/2.
    template <class S> S open_capacity(S y) const { return pilot_opening(*this, y); }

    /// C of (72), m3 s-1 Pa-1/2, of a reducing pilot open by `reducing` and of this at the lift y. Exactly 0 where one is shut.
    template <class S> S through_both(S reducing, S y) const {
        using std::sqrt;
        const S own = open_capacity(y);
        const P least = capacity * 1e-6; // two shut ones are 0 and not 0 / 0; of no matter once they open
        return reducing * own / sqrt(reducing * reducing + own * own + least * least);
    }

    /// Between the two pilots, Pa: each takes its share of the drop, by the inverse square of what it has open.
    template <class S> S between(S reducing, S y, S tee, S outlet) const {
        const S own = open_capacity(y);
        const P least = capacity * 1e-6; // as above
        return tee - (tee - outlet) * (own * own / (reducing * reducing + own * own + least * least));
    }

    /// The lift, m, at which it rests at an inlet pressure, Pa.
    double steady_lift(double set, double inlet) const {
        return sprung_lift(diaphragm_area, inlet - set, spring_rate, full_lift);
    }

    void name_states(SustainingPilotIndex& at, Names& names, const std::string& stage) const {
        names.part = stage + " sustaining pilot";
        at.sustaining_lift =
            names.add(stage + ".sustaining_lift", "m", full_lift / 10, "sustaining pilot lift, opening");
        at.sustaining_speed = names.add(stage + ".sustaining_speed", "m s-1", full_lift / stroke_time * 10,
                                        "sustaining pilot stem speed, opening");
    }
    void name_drives(SustainingPilotIndex& at, Names& drives, const std::string& stage) const {
        at.sustained = drives.add(stage + ".sustaining_pressure", pascal, bar,
                                  "static set pressure of the sustaining pilot, of the inlet");
    }

    void name_signals(Names& names, const std::string& stage) const {
        names.add(stage + ".between_pilots", pascal, bar, "pressure between reducing and sustaining pilot");
    }

    /// Its stem; what flows through both pilots is the stage's. `inlet` is what stands under its diaphragm.
    template <class On> void visit(On& on, const SustainingPilotIndex& at, const PortOf<P>& inlet) const {
        // Equation (70), and what the diaphragm makes room for.
        on(reads(at.sustaining_speed), writes(at.sustaining_lift, inlet.pressure),
           [this, per_inlet = inlet.per_volume](auto w) {
               return rates(w, -diaphragm_area * w * per_inlet);
           });
        on(reads(at.sustaining_lift, at.sustaining_speed, at.sustained, inlet.pressure),
           writes(at.sustaining_speed),
           [this](auto y, auto w, auto set, auto p1) { return rates(this->acceleration(y, w, set, p1)); });
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.capacity, of.full_lift, of.diaphragm_area, of.spring_rate, of.moving_mass,
                        of.stem_damping, of.seat, of.stop);
    }
    bool operator==(const SustainingPilotOf&) const = default;
};
using SustainingPilot = SustainingPilotOf<double>;

} // namespace needleturn::models
