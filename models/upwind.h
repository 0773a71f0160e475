/// Upwind: what passes between the cells of a pipe in which waves matter, by its two travelling parts.
///
///     w+ = p + Z q   moves right,   w- = p - Z q   moves left,   Z = rho a / A                              (23)
///     at a face:  p = (w+ + w-) / 2,   q = (w+ - w-) / (2 Z)
///     w at the face = w + s/4 ((1 - s/3) d_up + (1 + s/3) d_down)                                            (24)
///     s = (2 d_up d_down + e^2) / (d_up^2 + d_down^2 + e^2)
///
/// Each part is taken from the cell it comes from, with d_up and d_down the differences from the cell behind it and to
/// the cell ahead of it. Where the pressure is smooth, s is 1 and the face is of third order (kappa = 1/3: B. van Leer,
/// J. Comput. Phys. 32:101, 1979; the limiter of G. D. van Albada et al., Astron. Astrophys. 108:76, 1982; both from
/// memory). At a front steeper than e per cell, s falls and the scheme does not ring.
///
/// Why not central differences: they damp nothing, and a front leaves grid waves behind that the stepper then has to
/// follow, with three to five times the steps, and which a gas cavity turns into false pressure spikes. The price is a
/// numerical damping ratio of theta^3 / 12, theta = 2 pi f dx / a.
#pragma once

namespace needleturn::models {

/// e of equation (24), Pa: a compromise. Smaller clips smooth waves and costs steps, larger lets fronts overshoot.
inline constexpr double limiter_floor = 0.3e5;

/// Part of a cell's volume that stands at the pipe's end as a pressure point, so that the end has a gas cavity of its
/// own; the cell keeps the rest, and all of its water column.
inline constexpr double end_share = 0.08;

/// What is known of a cell: pressure, Pa, and flow, m3/s.
template <class S> struct PipeCell { S pressure, flow; };

/// Equations (23) and (24). `impedance` is Z, Pa s m-3, > 0.
struct Upwind {
    double impedance = 0;

    /// Equation (24): `here` carried towards `ahead`.
    template <class S> static S carried(S behind, S here, S ahead) {
        constexpr double floor = limiter_floor * limiter_floor;
        const S up = here - behind;
        const S down = ahead - here;
        const S product = 2.0 * up * down;
        const S difference = up - down;
        const S s = (product + floor) / (difference * difference + product + floor);
        return here + 0.25 * s * (up + down + s * (1.0 / 3) * (down - up));
    }

    template <class S> S rightwards(const PipeCell<S>& cell) const {
        return cell.pressure + impedance * cell.flow;
    }
    template <class S> S leftwards(const PipeCell<S>& cell) const {
        return cell.pressure - impedance * cell.flow;
    }

    template <class S> PipeCell<S> face_of(S right, S left) const {
        return {0.5 * (right + left), (0.5 / impedance) * (right - left)};
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
