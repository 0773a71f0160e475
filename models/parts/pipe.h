/// Pipe: a water column in equal cells.
///
/// From `fewest_upwind` cells on, waves are resolved: pressure and flow of each cell, joined by models/laws/upwind.h, and a
/// small part of the end cells' volume as storage at the ends. With fewer, and in a rigid pipe, the column is staggered:
/// flows in the cells, pressures at storages between them, half a cell's volume at each end. The staggered column is
/// the best there is for a few cells and damps nothing; at a front it rings.
///
///     (rho dx / A) dq/dt = p_left - p_right + rho g (z_left - z_right) - f rho dx q |q| / (2 D A^2)   (20)
///     C db/dt = q_in - q_out,   C = A dx / (rho a^2) between cells, half of that at each end          (21)
///     f = f_Darcy (1 + L_e / L) + K D / L
///
/// L_e and K are the equivalent length and the loss coefficients of all its fittings together, spread along the pipe.
/// Flow is positive from left to right. Momentum and continuity of the water-hammer equations without
/// convective terms (Wylie and Streeter 1993; from memory); a wave speed by Korteweg; f Darcy's, by Churchill
/// from Reynolds number and roughness, or constant; unsteady friction by models/laws/unsteady_friction.h. One cell is a
/// rigid column with its storage split between the ends. Not modelled: convective acceleration, movement of the pipe.
#pragma once

#include "models/laws/friction.h"
#include "models/laws/gravity.h"
#include "models/laws/storage.h"
#include "models/laws/unsteady_friction.h"
#include "models/laws/upwind.h"
#include "sim/contract/select.h"

#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>
#include <tuple>

namespace needleturn::models {

/// Friction loss of one cell, with what does not change worked out beforehand.
template <class P> struct CellLossOf {
    P per_square = 0;        ///< f rho dx / (2 D A^2) where f is constant; 0 where it follows from Re
    P reynolds_per_flow = 0; ///< s/m3
    P roughness = 0;         ///< relative
    P per_reynolds = 0;      ///< rho dx / (2 D A^2) over reynolds_per_flow
    P stretch = 1;           ///< 1 + L_e / L
    P fittings = 0;          ///< K D / L

    /// Pa, in the direction of the flow.
    template <class S> S operator()(S q) const {
        using std::abs;
        using std::max;
        return where(
            per_square > 0.0, [&] { return S(per_square * q * abs(q)); },
            [&] {
                // Below Re = 1 the flow has stopped for every purpose here; f Re = 64 there.
                const S reynolds = max(abs(q) * reynolds_per_flow, 1.0);
                return S((churchill(reynolds, roughness) * stretch + fittings) * reynolds * per_reynolds * q);
            });
    }
};

/// What moves the water of one cell, with what does not change worked out beforehand.
template <class P> struct CellMotionOf {
    CellLossOf<P> loss;
    P rise = 0;       ///< Pa, of a cell
    P per_pascal = 0; ///< dq/dt of a cell per pascal that drives it, m3 s-2 Pa-1

    /// Equation (20): dq/dt, m3 s-2, between two pressures.
    template <class S> S flow_rate(S q, S left, S right) const {
        return (left - right - rise - loss(q)) * per_pascal;
    }
};

template <class P> struct PipeOf {
    P length = 0;                    ///< m, > 0
    P bore = 0;                      ///< m, > 0
    P wave_speed = 0;                ///< a, m/s, > 0; infinity: rigid pipe and water
    P density = 0;                   ///< kg/m3
    P viscosity = 0;                 ///< Pa s
    P roughness = 0;                 ///< m, >= 0
    P friction_factor = 0;           ///< Darcy's; > 0: constant, 0: from Reynolds number and roughness
    P rise = 0;                      ///< m, height of the right end above the left
    std::size_t cells = 1;           ///< >= 1
    FrictionMemoryOf<P> memory = {}; ///< none: steady friction
    P loss_coefficient = 0;          ///< K of all fittings, in velocity heads, >= 0
    P equivalent_length = 0;         ///< L_e, m, of pipe that loses what fittings lose, >= 0
    P gassy_speed = 0; ///< m/s, of waves at the pressure of the start, with free gas; 0: as wave_speed

    /// Fewer cells than this are staggered: each travelling part of a wave needs three of them on either side.
    static constexpr std::size_t fewest_upwind = 4;
    bool upwind() const { return cells >= fewest_upwind && std::isfinite(wave_speed); }
    bool form() const { return upwind(); } ///< models/fields.h

    P area() const { return std::numbers::pi / 4 * bore * bore; }
    P cell_length() const { return length / static_cast<double>(cells); }
    /// Storage of one cell, m3/Pa; 0 if rigid.
    P cell_storage() const {
        return where(
            wave_speed < std::numeric_limits<double>::infinity(),
            [&] { return P(area() * cell_length() / modulus()); }, [] { return P(0.0); });
    }
    /// Storage that the pipe brings to the point at each of its ends, m3/Pa.
    P end_storage(bool is_upwind) const { return cell_storage() * (is_upwind ? end_share : 0.5); }
    /// Storage of a cell of an upwind pipe beside an end that is a pressure point, m3/Pa; the others have cell_storage().
    P end_cell_storage() const { return cell_storage() * (1 - end_share); }
    /// Of water and wall together, Pa.
    P modulus() const { return density * wave_speed * wave_speed; }
    /// m/s, at which waves travel.
    P speed() const {
        return where(
            gassy_speed > 0.0, [&] { return gassy_speed; }, [&] { return wave_speed; });
    }
    /// Z, Pa s m-3.
    P impedance() const { return density * speed() / area(); }

    CellLossOf<P> cell_loss() const {
        const P per_square = density * cell_length() / (2.0 * bore * area() * area());
        const P reynolds_per_flow = density * bore / (viscosity * area());
        const P stretch = 1.0 + equivalent_length / length;
        const P fittings = loss_coefficient * bore / length;
        const P constant = where(
            friction_factor > 0.0, [&] { return P((friction_factor * stretch + fittings) * per_square); },
            [] { return P(0.0); });
        return {constant, reynolds_per_flow, roughness / bore, per_square / reynolds_per_flow,
                stretch,  fittings};
    }
    /// Friction loss of one cell, Pa, in the direction of the flow.
    template <class S> S loss(S q) const { return cell_loss()(q); }
    /// Static pressure that one cell takes up by its rise, Pa.
    P cell_rise_pressure() const { return density * gravity * rise / static_cast<double>(cells); }
    /// What the whole pipe takes at a steady flow, Pa.
    double steady_drop(double q) const {
        return (loss(q) + cell_rise_pressure()) * static_cast<double>(cells);
    }

    /// dq/dt of a cell per pascal that drives it, m3 s-2 Pa-1; the inertia of equation (25) included.
    P flow_rate_per_pascal() const {
        return area() / (density * cell_length() * (1.0 + 4.0 * memory.inertia));
    }
    CellMotionOf<P> cell_motion() const {
        return {cell_loss(), cell_rise_pressure(), flow_rate_per_pascal()};
    }
    /// nu / R^2, 1/s: what makes the time of unsteady friction dimensionless.
    P viscous_rate() const { return viscosity / density * 4.0 / (bore * bore); }

    static constexpr auto fields(auto& of) {
        return std::tie(of.length, of.bore, of.wave_speed, of.density, of.viscosity, of.roughness,
                        of.friction_factor, of.rise, of.cells, of.memory, of.loss_coefficient,
                        of.equivalent_length, of.gassy_speed);
    }
    bool operator==(const PipeOf&) const = default;
};
using Pipe = PipeOf<double>;

} // namespace needleturn::models
