/// Sensing line: from the outlet to the chamber under the pilot diaphragm. States: line flow q_s; the chamber
/// is a storage (models/laws/storage.h) with pressure p_s.
///
///     (rho L / A) dq_s/dt = p2 - p_s - (R q_s + q_s |q_s| / C^2)                                      (16)
///     C_chamber db_s/dt = q_s + A_p w                                                                 (17)
///
///     R = 128 mu L / (pi D^4) + R_fittings   laminar: Hagen-Poiseuille for the line, (1) for its fittings
///     C                                      turbulent loss of line and fittings together
///
/// Flow is positive towards the pilot; the pilot diaphragm yields volume A_p w as it opens. Inertance and
/// resistance of a lumped line (handbook hydraulics). With the pilot on its spring (compliance A_p^2 / k) the
/// line's water column makes the resonance that sets the hunting frequency.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/storage.h"
#include "models/names.h"
#include "sim/contract/model.h"

#include <cmath>
#include <cstddef>
#include <numbers>
#include <string>
#include <tuple>

namespace needleturn::models {

/// Where its states are among the values.
struct SensingLineIndex {
    std::size_t sensing_flow = 0, sensed = 0;
};

template <class P> struct SensingLineOf {
    P inertance = 0;  ///< rho L / A, Pa s2 m-3, > 0
    P resistance = 0; ///< R, Pa s m-3, >= 0
    P capacity = 0;   ///< C, m3 s-1 Pa-1/2, > 0

    /// A line of `length` and `bore` (m), water of `density` (kg/m3) and `viscosity` (Pa s).
    static SensingLineOf of(double length, double bore, double capacity, double density, double viscosity) {
        const double area = std::numbers::pi / 4 * bore * bore;
        const double line = 128 * viscosity * length / (std::numbers::pi * std::pow(bore, 4));
        return {density * length / area, line + std::sqrt(small_passage_knee / 2) / capacity, capacity};
    }

    /// Equation (16): dq_s/dt, m3/s2.
    template <class S> S flow_rate(S q, S outlet, S sensed) const {
        using std::abs;
        return (outlet - sensed - (resistance + abs(q) / (capacity * capacity)) * q) / inertance;
    }

    static void name_states(SensingLineIndex& at, Names& names, const std::string& stage) {
        names.part = stage + " sensing line";
        at.sensing_flow = names.add(stage + ".sensing_flow", flow_unit, 1e-5,
                                    "flow in the sensing line, towards the pilot");
        at.sensed = names.add(stage + ".sensed_pressure", pascal, bar, "pressure under the pilot diaphragm");
    }

    template <class On>
    void visit(On& on, const SensingLineIndex& at, const PortOf<P>& out, const PortOf<P>& sensed) const {
        on(reads(at.sensing_flow, out.pressure, sensed.pressure),
           writes(at.sensing_flow, out.pressure, sensed.pressure),
           [this, per_out = out.per_volume, per_chamber = sensed.per_volume](auto q, auto p2, auto p) {
               return rates(this->flow_rate(q, p2, p), -q * per_out, q * per_chamber);
           });
    }

    static constexpr auto fields(auto& of) { return std::tie(of.inertance, of.resistance, of.capacity); }
    bool operator==(const SensingLineOf&) const = default;
};
using SensingLine = SensingLineOf<double>;

} // namespace needleturn::models
