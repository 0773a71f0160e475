/// Contact: what a stem feels when it meets its seat or its stop.
///
///     F = K d^2 / (d + d_0) (1 + chi v),   never pulling                                              (5)
///
///     d    how far the parts are pressed into each other, m; v its rate, m/s
///     K    stiffness, N/m; d_0 rounding, m: asperities carry first, the body later
///     chi  dissipation, s/m; 1.5 chi v is the share of speed lost in an impact at v
///
/// The damping that vanishes with the depth is that of Hunt and Crossley, "Coefficient of restitution
/// interpreted as damping in vibroimpact", J. Appl. Mech. 42:440 (1975), doi 10.1115/1.3423596 (from memory).
/// A linear spring with a switched damper would pull at separation and make the stepper ring.
#pragma once

#include "models/laws/smooth.h"

#include <algorithm>
#include <tuple>

namespace needleturn::models {

template <class P> struct ContactOf {
    P stiffness = 0;   ///< K, N/m, > 0
    P rounding = 0;    ///< d_0, m, > 0
    P dissipation = 0; ///< chi, s/m, >= 0

    /// Equation (5), N, >= 0.
    template <class S> S force(S depth, S rate) const {
        using std::max;
        return stiffness * beyond(depth, rounding) * max(1.0 + dissipation * rate, 0.0);
    }
    static constexpr auto fields(auto& of) { return std::tie(of.stiffness, of.rounding, of.dissipation); }
    bool operator==(const ContactOf&) const = default;
};
using Contact = ContactOf<double>;

/// Metal on metal of a main valve's seat or stop, elastomer ring included: kilonewtons press it in by
/// some 20 um.
inline constexpr Contact main_stop{2e8, 1e-6, 5};

/// Seat and stop of a pilot: some 100 N press its soft seat in by 20 um.
inline constexpr Contact pilot_stop{2e7, 20e-6, 20};

} // namespace needleturn::models
