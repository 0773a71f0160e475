/// Stem friction: what guides and seals do to a stem. It sticks until a force breaks it away, then it slips. State: presliding
/// travel z, how far the stem has moved since its guides and seals last slipped.
///
///     F = s0 z + s1 / (1 + (v s1 / F_C)^2) dz/dt                                                      (29)
///     dz/dt = v (1 - w),   w = a(r) r,   r = s0 z sgn(v) / g(v)                                       (40)
///     g(v) = F_C + (F_S - F_C) exp(-(v / v_S)^2)                                                      (41)
///
///     F    force against opening, N; v stem speed, m/s, opening; the mass of the stem feels -F
///     F_C  Coulomb force of a stem that slides, F_S break-away force of one that stands, N; v_S Stribeck speed, m/s
///     s0   presliding stiffness, N/m; s1 presliding damping, N s/m; F_S / s0 is the presliding travel at which it slips
///     a    0 for r <= 0.7, 1 for r >= 1, a cubic between: the share of the motion that slips
///
/// (40) is the elasto-plastic law of P. Dupont, V. Hayward, B. Armstrong and F. Altpeter, "Single state elastoplastic friction
/// models", IEEE Trans. Automatic Control 47:787 (2002), with a cubic for their half sine; with a = 1 everywhere it is LuGre (C.
/// Canudas de Wit, H. Olsson, K. J. Astrom and P. Lischinsky, IEEE Trans. Automatic Control 40:419, 1995; K. J. Astrom and C. Canudas
/// de Wit, "Revisiting the LuGre friction model", IEEE Control Systems 28(6):101, 2008), of which (29) and (41) are. All from
/// memory. LuGre slips a little at any force, so that a stem which pressures shake drifts away under a steady force below
/// break-away. Here nothing slips below 0.7 F_S: a stem at rest stays, and small motions about any place in that band are the same
/// linear ones, of a stem on a spring s0 with a damper s1. That is why this law was chosen.
///
/// That the presliding damping fades with speed keeps the force near g(v) when a fast stem turns round (so H. Olsson, thesis, Lund
/// 1996, by an exponential; from memory); the form here is chosen: s1 dz/dt adds half of F_C at most while a stem sticks. The viscous
/// damping of a stem is its part's own.
#pragma once

#include "models/laws/smooth.h"
#include "models/names.h"
#include "sim/contract/model.h"
#include "sim/contract/select.h"

#include <cmath>
#include <cstddef>
#include <string>
#include <tuple>

namespace needleturn::models {

/// v_S, m/s: a stem that creeps. That of the LuGre paper of 1995, for metal guides; from memory.
inline constexpr double stribeck_speed = 1e-3;

/// Of F_S: below it nothing slips. Chosen: the nearer to 1, the sharper the break-away.
inline constexpr double elastic_share = 0.7;

template <class P> struct StemFrictionOf {
    P coulomb = 0;   ///< F_C, N, > 0
    P breakaway = 0; ///< F_S, N, >= F_C
    P stiffness = 0; ///< s0, N/m, > 0
    P damping = 0;   ///< s1, N s/m, > 0

    /// The friction of a stem of `mass`, kg, > 0, that slips after `presliding`, m, > 0. The damping is half the critical one of the
    /// mass on its presliding spring, as in the example of the 1995 paper (from memory).
    static StemFrictionOf of(P coulomb, P breakaway, P presliding, P mass) {
        using std::sqrt;
        const P stiffness = breakaway / presliding;
        return {coulomb, breakaway, stiffness, sqrt(stiffness * mass)};
    }

    /// F_S / s0, m.
    P presliding() const { return breakaway / stiffness; }

    /// Equation (41), N.
    template <class S> S slip_force(S v) const {
        using std::exp;
        return where(
            breakaway > coulomb,
            [&] {
                const S slow = v / stribeck_speed;
                return S(coulomb + (breakaway - coulomb) * exp(-(slow * slow)));
            },
            [&] { return S(coulomb); });
    }

    /// Equation (40), m/s.
    template <class S> S presliding_rate(S v, S z) const {
        constexpr double middle = 0.5 * (1 + elastic_share), half = 0.5 * (1 - elastic_share);
        const S along = select(v < S(0.0), S(-z), z) * stiffness / slip_force(v);
        return v * (1.0 - smooth_step(S(along - middle), half) * along);
    }

    /// Equation (29), N; `rate` is that of (40).
    template <class S> S force(S v, S z, S rate) const {
        const S fast = v * damping / coulomb;
        return stiffness * z + damping / (1.0 + fast * fast) * rate;
    }

    /// Enters the state of `stem`, "main.stem"; its place.
    std::size_t name_state(Names& names, const std::string& stem) const {
        return names.add(stem + "_presliding", "m", presliding(),
                         "how far the stem has moved since it last slipped, opening: its friction is the "
                         "stiffness times this",
                         Role::held);
    }

    /// On a stem of `mass`, kg.
    template <class On> void visit(On& on, std::size_t speed, std::size_t presliding, P mass) const {
        on(reads(speed, presliding), writes(speed, presliding), [this, mass](auto v, auto z) {
            const auto rate = this->presliding_rate(v, z);
            return rates(-this->force(v, z, rate) / mass, rate);
        });
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.coulomb, of.breakaway, of.stiffness, of.damping);
    }
    bool operator==(const StemFrictionOf&) const = default;
};
using StemFriction = StemFrictionOf<double>;

} // namespace needleturn::models
