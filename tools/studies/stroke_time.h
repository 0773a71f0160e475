/// How long a full or partial stroke of the main valve takes, from the flow through its cover line.
///
/// At the instant of a stroke at which the flow is its mean, the stem moves steadily: (7) gives the cover pressure, (1), (12) and
/// (15) the flow, and (7a) the time for the water of the stroke. Equations: models/README.md. All SI, pressures gauge.
#pragma once

namespace needleturn {

/// The valve in a stroke.
struct StrokeValve {
    double displacement = 0;   ///< m3 of a full stroke, > 0
    double seat_area = 0;      ///< m2, > 0
    double diaphragm_area = 0; ///< m2, > seat_area
    double closing_force = 0;  ///< N, of spring and weight at that lift
    double stem_damping = 0;   ///< N s/m
    double stem_friction = 0;  ///< N, Coulomb: the stem slides
    double restriction = 0;    ///< m3 s-1 Pa-1/2, of the fixed restriction
    double needle = 0;         ///< m3 s-1 Pa-1/2, of the one that throttles this stroke, at its turns
    double other = 0;          ///< m3 s-1 Pa-1/2, of the other needle at its turns
    double check = 0;          ///< m3 s-1 Pa-1/2, of a check, open
    double pilot = 0;          ///< m3 s-1 Pa-1/2, wide open; of no matter while the valve closes
};

/// Flow into the cover, m3/s: what the restriction brings to the tee less what the pilot takes, through `path` to the cover.
/// Capacities in m3 s-1 Pa-1/2, equation (1) each.
double flow_into_cover(double restriction, double path, double pilot, double inlet, double outlet,
                       double cover);

/// Cover pressure, Pa, of a stem at rest, (7).
double resting_cover_pressure(double seat_area, double diaphragm_area, double closing_force, double inlet,
                              double outlet);

/// Time, s, for `part` of a stroke with the pilot shut, or infinite where the pressures do not move the valve.
double closing_time(const StrokeValve& valve, double inlet, double outlet, double part);

/// The same with the pilot wide open.
double opening_time(const StrokeValve& valve, double inlet, double outlet, double part);

} // namespace needleturn
