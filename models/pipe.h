/// Pipe: a water column in equal cells.
///
/// From `fewest_upwind` cells on, waves are resolved: pressure and flow of each cell, joined by models/upwind.h, and a
/// small part of the end cells' volume as storage at the ends. With fewer, and in a rigid pipe, the column is staggered:
/// flows in the cells, pressures at storages between them, half a cell's volume at each end. The staggered column is
/// the best there is for a few cells and damps nothing; at a front it rings.
///
///     (rho dx / A) dq/dt = p_left - p_right + rho g (z_left - z_right) - f rho dx q |q| / (2 D A^2)   (20)
///     C db/dt = q_in - q_out,   C = A dx / (rho a^2) between cells, half of that at each end          (21)
///
/// Flow is positive from left to right. Momentum and continuity of the water-hammer equations without
/// convective terms (Wylie and Streeter 1993; from memory); a wave speed by Korteweg; f Darcy's, by Churchill
/// from Reynolds number and roughness, or constant; unsteady friction by models/unsteady_friction.h. One cell is a
/// rigid column with its storage split between the ends. Not modelled: convective acceleration, movement of the pipe.
#pragma once

#include "models/friction.h"
#include "models/main_valve.h"
#include "models/unsteady_friction.h"
#include "models/upwind.h"

#include <cmath>
#include <cstddef>
#include <numbers>

namespace needleturn::models {

struct Pipe {
    double length = 0;          ///< m, > 0
    double bore = 0;            ///< m, > 0
    double wave_speed = 0;      ///< a, m/s, > 0; infinity: rigid pipe and water
    double density = 0;         ///< kg/m3
    double viscosity = 0;       ///< Pa s
    double roughness = 0;       ///< m, >= 0
    double friction_factor = 0; ///< Darcy's; > 0: constant, 0: from Reynolds number and roughness
    double rise = 0;            ///< m, height of the right end above the left
    std::size_t cells = 1;      ///< >= 1
    FrictionMemory memory = {}; ///< none: steady friction

    /// Fewer cells than this are staggered: each travelling part of a wave needs three of them on either side.
    static constexpr std::size_t fewest_upwind = 4;
    bool upwind() const { return cells >= fewest_upwind && std::isfinite(wave_speed); }

    double area() const { return std::numbers::pi / 4 * bore * bore; }
    double cell_length() const { return length / static_cast<double>(cells); }
    /// Storage of one cell, m3/Pa; 0 if rigid.
    double cell_storage() const { return area() * cell_length() / (density * wave_speed * wave_speed); }

    /// Storage that the pipe brings to the point at each of its ends, m3/Pa.
    double end_storage() const { return cell_storage() * (upwind() ? end_share : 0.5); }
    /// Storage of a cell of an upwind pipe beside an end that is a pressure point, m3/Pa; the others have cell_storage().
    double end_cell_storage() const { return cell_storage() * (1 - end_share); }
    /// Z, Pa s m-3.
    double impedance() const { return density * wave_speed / area(); }

    /// Friction loss of one cell, Pa, in the direction of the flow.
    template <class S> S loss(S q) const {
        using std::abs;
        using std::max;
        const double per_square = density * cell_length() / (2 * bore * area() * area());
        if (friction_factor > 0)
            return friction_factor * per_square * q * abs(q);
        // Below Re = 1 the flow has stopped for every purpose here; f Re = 64 there.
        const double reynolds_per_flow = density * bore / (viscosity * area());
        const S reynolds = max(abs(q) * reynolds_per_flow, 1.0);
        return churchill(reynolds, roughness / bore) * reynolds * (per_square / reynolds_per_flow) * q;
    }

    /// Static pressure that one cell takes up by its rise, Pa.
    double cell_rise_pressure() const { return density * gravity * rise / static_cast<double>(cells); }

    /// dq/dt of a cell per pascal that drives it, m3 s-2 Pa-1; the inertia of equation (25) included.
    double flow_rate_per_pascal() const {
        return area() / (density * cell_length() * (1 + 4 * memory.inertia));
    }

    /// Equation (20): dq/dt, m3/s2.
    template <class S> S flow_rate(S q, S left, S right) const {
        return (left - right - cell_rise_pressure() - loss(q)) * flow_rate_per_pascal();
    }

    /// nu / R^2, 1/s: what makes the time of unsteady friction dimensionless.
    double viscous_rate() const { return viscosity / density * 4 / (bore * bore); }
    bool operator==(const Pipe&) const = default;
};

} // namespace needleturn::models
