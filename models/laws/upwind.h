/// Upwind: what passes between the cells of a pipe in which waves matter, by its two travelling parts.
///
///     w+ = p + Z q   moves right,   w- = p - Z q   moves left,   Z = rho a / A                              (23)
///     at a face:  p = (w+ + w-) / 2,   q = (w+ - w-) / (2 Z)
///     w at the face = w + s/4 ((1 - s/3) d_up + (1 + s/3) d_down)                                            (24)
///     s = 1 - c^4 / ((c^2 + e^2) (d_up^2 + d_down^2 + e^2)),   c = d_down - d_up
///
/// Each part is taken from the cell it comes from, with d_up and d_down the differences from the cell behind it and to
/// the cell ahead of it. Where the pressure is smooth, s is 1 and the face is of third order (kappa = 1/3: B. van Leer,
/// J. Comput. Phys. 32:101, 1979; from memory). At a front steeper than e per cell, s falls and the scheme does not ring:
/// for c much larger than e it is the limiter 2 d_up d_down / (d_up^2 + d_down^2) of G. D. van Albada et al., Astron.
/// Astrophys. 108:76, 1982 (from memory); for a smaller curvature c it departs from 1 by c^4 instead of c^2, so that e can
/// be small for fronts without flattening the crests of smooth waves. In a smooth wave the pressure changes by less per
/// cell the more cells there are, so e falls with N^-1.5, and the order at which a smooth wave converges stays. A jump of
/// 1.3 bar overshoots by 3.6 % at 16 cells and by 0.8 % at 64, one of 4 bar by 1.1 and 0.2 % (joukowsky_closure.cpp).
///
/// The ends. What arrives at an end is extrapolated from two cells, w = 1.5 w_1 - 0.5 w_2; with the pressure p_e of the
/// end it gives the flow there, q_e = (p_e - w_-) / Z into the pipe at a left end, and what departs, 2 p_e - w. Ahead of
/// the first cell stands a mirrored one: what departs, on the straight line through the first cell.
///
/// An end that is a pressure point holds a part of the first cell's volume (end_share, c); the cell keeps 1 - c of its
/// storage and all of its inertia. For smooth waves that is right to second order, but a front meets a short stretch of
/// higher impedance, and c/2 of it comes back at once: 4 to 5 % at any number of cells. So where what departs is a front,
/// the cell's momentum follows its storage:
///
///     (rho dx / A) dq/dt = ... + psi c / (1 - c) Z (q_e - q_f),   psi = d^2 / (d^2 + e_f^2)                 (28)
///
/// with q_f the flow at the cell's other face and d what departs less what the cell holds of it. The arriving part is
/// then left alone by the departing one. In steady flow q_e = q_f, and the term is nothing whatever psi is.
///
/// Why not central differences: they damp nothing, and a front leaves grid waves behind that the stepper then has to
/// follow, with three to five times the steps, and which a gas cavity turns into false pressure spikes. The price is a
/// numerical damping ratio of theta^3 / 12, theta = 2 pi f dx / a.
#pragma once

#include "sim/contract/of_two.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace needleturn::models {

/// e of equation (24), Pa, in a pipe of `cells`: a compromise. Smaller damps smooth waves and costs steps, larger lets
/// fronts overshoot. e^2 falls with the third power of the cell's length, as V. Venkatakrishnan has it (J. Comput. Phys.
/// 118:120, 1995; from memory).
inline double limiter_floor(double cells) {
    constexpr double coarsest = 0.2e5; // at 8 cells, the fewest that a pipe is given when its waves matter
    constexpr double finest = 0.002e5; // above what the stepper leaves uncertain
    return std::max(finest, coarsest * std::pow(std::min(1.0, 8 / cells), 1.5));
}

/// e_f of equation (28), Pa: a jump of 0.4 bar still overshoots by less than 1 %.
inline constexpr double front_floor = 0.1e5;

/// Part of a cell's volume that stands at the pipe's end as a pressure point, so that the end has a gas cavity of its
/// own; the cell keeps the rest, and all of its water column.
inline constexpr double end_share = 0.08;

/// What is known of a cell: pressure, Pa, and flow, m3/s.
template <class S> struct PipeCell { S pressure, flow; };

/// Equations (23), (24) and (28).
template <class P> struct UpwindOf {
    P impedance = 0;       ///< Z, Pa s m-3, > 0
    double floor = 0;      ///< e squared, Pa2
    P half_admittance = 0; ///< 1 / (2 Z)

    static UpwindOf of(P impedance, std::size_t cells) {
        const double floor = limiter_floor(static_cast<double>(cells));
        return {impedance, floor * floor, 0.5 / impedance};
    }

    /// Equation (24): `here` carried towards `ahead`.
    template <class S> S carried(S behind, S here, S ahead) const {
        const auto ahead_of_here = [floor = floor](auto up, auto down) {
            const auto sum = up + down;
            const auto bend = down - up;
            const auto square = bend * bend;
            const auto s = 1.0 - square * square / ((square + floor) * (0.5 * (sum * sum + square) + floor));
            return 0.25 * s * (sum + s * (1.0 / 3) * bend);
        };
        return here + of_two(ahead_of_here, S(here - behind), S(ahead - here));
    }

    template <class S> S rightwards(const PipeCell<S>& cell) const {
        return cell.pressure + impedance * cell.flow;
    }
    template <class S> S leftwards(const PipeCell<S>& cell) const {
        return cell.pressure - impedance * cell.flow;
    }

    template <class S> PipeCell<S> face_of(S right, S left) const {
        return {0.5 * (right + left), half_admittance * (right - left)};
    }

    /// Between b and c, of four cells in a row.
    template <class S> PipeCell<S> between(const PipeCell<S>& a, const PipeCell<S>& b, const PipeCell<S>& c,
                                           const PipeCell<S>& d) const {
        return face_of(carried(rightwards(a), rightwards(b), rightwards(c)),
                       carried(leftwards(d), leftwards(c), leftwards(b)));
    }

    /// What arrives at the pipe's left end from its first two cells.
    template <class S> S arriving(const PipeCell<S>& first, const PipeCell<S>& second) const {
        return 1.5 * leftwards(first) - 0.5 * leftwards(second);
    }

    /// Flow into the pipe at its left end, where the pressure is `end`.
    template <class S> S inflow(S end, const PipeCell<S>& first, const PipeCell<S>& second) const {
        return (end - arriving(first, second)) / impedance;
    }

    /// Equation (28) without the flows: Pa s m-3 by which the first cell is pushed per m3/s that its end takes in beyond
    /// what its other face lets go. `share` is the part of the cell's volume that stands at the end, 0 at a source.
    template <class S>
    S front_impedance(double share, S end, const PipeCell<S>& first, const PipeCell<S>& second) const {
        const S jump = 2.0 * end - arriving(first, second) - rightwards(first);
        const S square = jump * jump;
        return share / (1 - share) * impedance * square / (square + front_floor * front_floor);
    }

    /// Between the first two cells: the cell before the first is mirrored from the end.
    template <class S> PipeCell<S> beside_end(S end, const PipeCell<S>& first, const PipeCell<S>& second,
                                              const PipeCell<S>& third) const {
        const S departing = 2.0 * end - arriving(first, second);
        const S here = rightwards(first);
        return face_of(carried(S(2.0 * departing - here), here, rightwards(second)),
                       carried(leftwards(third), leftwards(second), leftwards(first)));
    }
};

} // namespace needleturn::models
