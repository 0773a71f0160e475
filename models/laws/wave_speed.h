/// Speed of a pressure wave in a water-filled pipe, and the pressure rise of a sudden stop.
///
///     a = sqrt( (K/rho) / (1 + psi K D / (E e)) )        Korteweg 1878; Halliwell 1963 for the restraint
///
/// K and rho of the water, D the bore, e the wall thickness, E Young's modulus, psi the restraint factor.
/// Not modelled: mass of the wall, viscoelastic walls, fluid-structure interaction.
#pragma once

#include <cmath>

namespace needleturn::models {

/// How the pipe is held along its axis.
enum class Restraint {
    expansion_joints,       ///< free to slide, no axial stress: psi = 1
    anchored_upstream,      ///< held at one end, the valve end pulls on the wall: psi = 5/4 - nu
    anchored_upstream_hoop, ///< the same by the hoop strain alone: psi = 1 - nu/2
    anchored_throughout     ///< no axial movement: psi = 1 - nu^2
};

struct PipeWall {
    double bore = 0;           ///< m, inside diameter, > 0
    double thickness = 0;      ///< m, > 0
    double youngs_modulus = 0; ///< Pa, > 0
    double poisson_ratio = 0;  ///< 0 to 0.5
};

/// psi of a thin wall (e much smaller than D).
///
/// Sources disagree on a pipe held at one end: 5/4 - nu counts the stretch of the pipe along its axis (twice
/// the hoop strain plus the axial strain of a closed tube), 1 - nu/2 the hoop strain alone. Wylie & Streeter 1993,
/// Fluid Transients in Systems; Chaudhry, Applied Hydraulic Transients (both from memory).
inline double thin_wall_factor(const PipeWall& wall, Restraint restraint) {
    const double nu = wall.poisson_ratio;
    switch (restraint) {
    case Restraint::anchored_upstream:
        return 1.25 - nu;
    case Restraint::anchored_upstream_hoop:
        return 1 - nu / 2;
    case Restraint::anchored_throughout:
        return 1 - nu * nu;
    case Restraint::expansion_joints:
        break;
    }
    return 1;
}

/// psi of a wall of any thickness: (2e/D)(1 + nu) + D/(D + e) psi_thin. Tends to the thin form as e/D -> 0.
/// Wylie & Streeter 1993 (from memory).
inline double thick_wall_factor(const PipeWall& wall, Restraint restraint) {
    return 2 * wall.thickness / wall.bore * (1 + wall.poisson_ratio)
           + wall.bore / (wall.bore + wall.thickness) * thin_wall_factor(wall, restraint);
}

/// psi K D / (E e): the compliance that the wall adds, relative to that of the water (bulk modulus K in Pa).
inline double wall_term(double bulk_modulus, const PipeWall& wall, double factor) {
    return factor * bulk_modulus * wall.bore / (wall.youngs_modulus * wall.thickness);
}

/// Wave speed, m/s, for water of `bulk_modulus` (Pa) and `density` (kg/m3); `wall` as from wall_term, 0 for a
/// rigid pipe.
inline double wave_speed(double bulk_modulus, double density, double wall) {
    return std::sqrt(bulk_modulus / density / (1 + wall));
}

/// Wave speed, m/s, with free gas spread through the water, where it is `speed` (m/s) without the gas:
///
///     a_g = a / sqrt( 1 + rho a^2 g / (p_abs - p_v)^2 )          Wood 1930, A Textbook of Sound (from memory)
///
/// `strength` g of the gas and its equation of state are those of storage.h (isothermal, Pa), `above_vapour` is p_abs - p_v,
/// Pa, > 0. Wood's relation with the small part of the gas in the volume left out beside 1, as the storages have it.
inline double gassy_wave_speed(double speed, double density, double strength, double above_vapour) {
    return speed / std::sqrt(1 + density * speed * speed * strength / (above_vapour * above_vapour));
}

/// Pressure rise, Pa, when the velocity falls by `velocity_drop` (m/s) in less than 2 L / a: rho a dv
/// (Joukowsky 1898).
inline double joukowsky_rise(double density, double speed, double velocity_drop) {
    return density * speed * velocity_drop;
}

} // namespace needleturn::models
