/// Diaphragm that gives: beside what the stem moves it bulges towards the lower pressure. State: the mean place y of the diaphragm.
///
///     V = W(x) - W(y),   tau dV/dt = c (p_c - p_2) - V                                                (45)
///
///     V    volume of the bulge, m3, positive downwards: the cover's room grows by it and that below shrinks
///     c    compliance, m3/Pa; x lift of the stem, m; W volume displaced, (46) of models/laws/stem.h: A_d x
///     p_c  cover pressure, p_2 pressure under the diaphragm, Pa gauge
///     tau  lag of the cloth and rubber behind the pressure, s
///
/// The cover's room is that of a rigid diaphragm at y, so y stands for the lift in the laws of the cover (models/parts/cover.h). The
/// force on the stem is as before: a bulge moves no pressure. A Kelvin-Voigt element (textbook of viscoelasticity, from memory).
#pragma once

#include "models/laws/stem.h"
#include "models/laws/storage.h"
#include "models/names.h"
#include "models/parts/cover.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <string>
#include <tuple>

namespace needleturn::models {

/// tau, s: a loss factor of 0.1 at the 3 Hz at which such valves hunt. Chosen: of filled rubbers 0.05 to 0.3, from memory.
inline constexpr double diaphragm_lag = 5e-3;

template <class P> struct DiaphragmOf {
    P area = 0;       ///< A_d, m2, > 0
    P compliance = 0; ///< c, m3/Pa, > 0
    P area_slope = 0; ///< A', m2 per m of lift

    /// Equation (45): dV/dt, m3/s.
    template <class S> S bulging(S lift, S place, S cover, S below) const {
        const S mean_area = area_at(area, area_slope, S(0.5 * (lift + place)));
        return (compliance * (cover - below) - mean_area * (lift - place)) * (1 / diaphragm_lag);
    }
    /// Where it rests, m; with a slope a guess.
    double steady_place(double lift, double cover, double below) const {
        return lift - compliance * (cover - below) / area;
    }

    /// Enters its state; its place.
    std::size_t name_state(Names& names, const std::string& stage, P full_lift) const {
        return names.add(stage + ".diaphragm", "m", full_lift / 10, "mean place of the diaphragm, opening");
    }

    /// `lift` and `speed` are the stem's, `place` its own. What the stem alone does to cover and outlet is (7a).
    template <class On> void visit(On& on, std::size_t lift, std::size_t speed, std::size_t place,
                                   const CoverOf<P>& cover, const CoverIndex& above,
                                   const PortOf<P>& below) const {
        on(reads(lift, speed, place, above.cover, above.air, below.pressure),
           writes(place, above.cover, below.pressure),
           [this, &cover, per_below = below.per_volume](auto x, auto v, auto y, auto p_cover, auto air,
                                                        auto p2) {
               using S = decltype(x);
               const S flow = this->bulging(x, y, p_cover, p2);
               // What the stem displaces is reckoned with the area at y; A(x) v - dV/dt = A(y) dy/dt.
               const S sinking = (flow - area_slope * (x - y) * v) / area_at(area, area_slope, y);
               return rates(v - sinking, cover.pressure_rate(p_cover, y, air, S(0.0), S(-sinking)),
                            flow * per_below);
           });
    }

    static constexpr auto fields(auto& of) { return std::tie(of.area, of.compliance, of.area_slope); }
    bool operator==(const DiaphragmOf&) const = default;
};
using Diaphragm = DiaphragmOf<double>;

} // namespace needleturn::models
