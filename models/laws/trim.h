/// Trim: capacity of a main or direct-acting valve against lift, and its flow up to choking.
///
///     C(x) = C_full phi(h),   h = lift / full lift                                                    (2)
///     q = C(x) root(limited(dp, dp_choked))                                                           (3)
///     dp_choked = F_L^2 (p_up_abs - F_F p_v)                                                          (4)
///
/// phi is an inherent characteristic (models/laws/characteristic.h); root is equation (1) of models/laws/restriction.h;
/// `limited` rounds the corner where more drop no longer brings more flow. F_L, F_F and (4):
/// IEC 60534-2-1:2011, without reducers beside the valve. F_L is taken as constant over the lift.
#pragma once

#include "models/laws/air.h"
#include "models/laws/characteristic.h"
#include "models/laws/restriction.h"
#include "models/laws/smooth.h"

#include <cmath>
#include <tuple>

namespace needleturn::models {

/// F_F = 0.96 - 0.28 sqrt(p_v / p_c): the pressure in the vena contracta of choked flow, relative to the vapour pressure;
/// p_c is the critical pressure of water.
inline double critical_pressure_ratio_factor(double vapour_pressure_abs, double critical_pressure) {
    return 0.96 - 0.28 * std::sqrt(vapour_pressure_abs / critical_pressure);
}

template <class P> struct TrimOf {
    P capacity = 0;                     ///< C_full, m3 s-1 Pa-1/2, > 0, at the density of the water
    P full_lift = 0;                    ///< m, > 0
    P recovery = 0.9;                   ///< F_L, (0, 1]
    P critical_pressure_term = 0;       ///< F_F p_v, Pa absolute
    CharacteristicOf<P> characteristic; ///< phi

    /// Equation (2). Exactly 0 at lift 0 and below.
    template <class S> S capacity_at(S lift) const {
        // A seat opens along a rim with a bevel and a scratch or two, not all at once.
        constexpr double rim = 2e-6; // m
        return capacity * relative_capacity(characteristic, S(beyond(lift, rim) / full_lift));
    }

    /// Equations (3) and (4), m3/s, positive from p1 to p2 (Pa gauge); mirrored when p2 is the higher.
    template <class S> S flow(S p1, S p2, S lift) const { return capacity_at(lift) * root_of_drop(p1, p2); }

    /// The root in (3), Pa^1/2: flow over capacity.
    template <class S> S root_of_drop(S p1, S p2) const {
        using std::max;
        const S upstream_abs = max(p1, p2) + atmospheric_pressure;
        // Upstream water about to boil leaves nothing to choke; keep the limit above zero.
        const S choked = recovery * recovery * max(upstream_abs - critical_pressure_term, 100.0);
        return drop_root(limited(p1 - p2, choked), large_passage_knee);
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.capacity, of.full_lift, of.recovery, of.critical_pressure_term, of.characteristic);
    }
    bool operator==(const TrimOf&) const = default;
};
using Trim = TrimOf<double>;

} // namespace needleturn::models
