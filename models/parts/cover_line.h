/// Cover line: the water column between tee and cover, in line with the speed controls. State: its flow q, into the cover.
///
///     (rho L / A) dq/dt = p_tee - p_c - R q - (sqrt(knee / 2) + |q| / C) q / C                        (50)
///
///     R  128 mu L / (pi D^4), Hagen-Poiseuille; the turbulent loss of the line counts with that of the controls
///     C  capacity of the controls at the drop p_tee - p_c, knee: as in (12)
///
/// The loss of the controls is equation (1) solved for the drop, so that a steady flow is that of (12), but for R. A lumped
/// inertance (handbook hydraulics). Not modelled: water that coasts on against the drop finds its check shut by it at once. Checks
/// that go by the flow would be truer, but with a needle seated they are a corner at q = 0 that takes fifty times the steps.
///
/// The tee's storage matters once there is such a line. Without it the tee follows the cover through the needles; with it nothing
/// but that storage takes the flows of restriction and pilot until the column has moved.
#pragma once

#include "models/laws/restriction.h"
#include "models/names.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <string>
#include <tuple>

namespace needleturn::models {

template <class P> struct CoverLineOf {
    P inertance = 0;  ///< rho L / A, Pa s2 m-3, > 0
    P resistance = 0; ///< R, Pa s m-3, >= 0

    /// A line of `length` and `bore` (m), water of `density` (kg/m3) and `viscosity` (Pa s).
    static CoverLineOf of(double length, double bore, double density, double viscosity) {
        const double area = std::numbers::pi / 4 * bore * bore;
        return {density * length / area, 128 * viscosity * length / (std::numbers::pi * std::pow(bore, 4))};
    }

    /// m3 s-1 Pa-1/2: a seated needle passes no less, 0.3 mm3/s at 1 bar. Nothing at all would hold the column by an infinite
    /// force.
    static constexpr double seated = 1e-12;

    /// Equation (50): dq/dt, m3/s2; `capacity` is that of the controls.
    template <class S> S flow_rate(S q, S drop, S capacity) const {
        using std::abs;
        using std::max;
        const S passage = max(capacity, seated);
        const S controls = (std::sqrt(small_passage_knee / 2) + abs(q) / passage) * q / passage;
        return (drop - resistance * q - controls) / inertance;
    }

    /// Enters its state; its place.
    static std::size_t name_state(Names& names, const std::string& stage) {
        names.part = stage + " cover line";
        return names.add(stage + ".cover_line_flow", flow_unit, 1e-4,
                         "flow in the cover line, into the cover");
    }

    static constexpr auto fields(auto& of) { return std::tie(of.inertance, of.resistance); }
    bool operator==(const CoverLineOf&) const = default;
};
using CoverLine = CoverLineOf<double>;

} // namespace needleturn::models
