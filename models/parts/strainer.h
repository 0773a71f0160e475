/// A strainer ahead of the stages: a body with a wire screen that dirt closes mesh by mesh. Between two points.
///
///     q = C root(p_from - p_to)                                                                       (65)
///     1 / C^2 = 1 / C_b^2 + K(f) / C_s^2,   f = s f_0,   K(f) = 1.3 (1 - f) + (1 / f - 1)^2           (66)
///
/// s is the open share of its meshes, 1 clean (a drive), f_0 the share of the clean screen that is open, C_b the capacity of the
/// body without its screen, C_s that of the whole area of the screen at the loss of one velocity head. K: loss coefficient of a
/// screen of round wires by the share that is open, referred to the speed ahead of it, where Re of the wire is above 1000
/// (Idelchik, Handbook of Hydraulic Resistance, the diagram of screens; from memory). Its second term is Borda and Carnot's loss
/// of a jet that widens from the open meshes to the whole. Losses in series add.
///
/// Dirt is taken to shut meshes all over the screen alike (chosen). Not modelled: what a cake of dirt loses besides, a screen that
/// bursts or bulges, dirt that comes with the flow (the share is a known function of time), the strainer's own flushing.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/storage.h"
#include "models/line.h"
#include "models/names.h"
#include "sim/contract/model.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <tuple>

namespace needleturn::models {

/// The open share of the meshes, among the values: a drive.
struct StrainerIndex {
    std::size_t open = 0;
};

template <class P> struct StrainerOf {
    std::string name = "strainer";
    BetweenPoints between;
    P body_capacity = 0;   ///< C_b, m3 s-1 Pa-1/2, > 0
    P screen_capacity = 0; ///< C_s, m3 s-1 Pa-1/2, > 0
    P mesh_open = 0;       ///< f_0, (0, 1)

    static constexpr double least_open = 1e-3; ///< s below which it is taken as this: what is shut is a cock

    using Index = StrainerIndex;
    struct Joined : Index {
        PortOf<P> from, to;
    };

    /// K of (66) at an open share f, (0, 1].
    static double loss_coefficient(double f) { return 1.3 * (1 - f) + (1 / f - 1) * (1 / f - 1); }

    /// C of (66).
    template <class S> S capacity(S open) const {
        using std::max;
        using std::min;
        using std::sqrt;
        const S f = min(max(open, S(least_open)), S(1.0)) * mesh_open;
        // All of (66) times f^2: a screen that is all but shut divides by nothing.
        const S squared = f * f, shut = 1.0 - f;
        return f
               / sqrt(squared / (body_capacity * body_capacity)
                      + shut * (1.3 * squared + shut) / (screen_capacity * screen_capacity));
    }
    /// Equation (65), m3/s.
    template <class S> S flow(S open, S from, S to) const {
        return capacity(open) * drop_root(from - to, large_passage_knee);
    }
    /// The drop, Pa, at which (65) gives this flow, m3/s: equation (1).
    double drop(double open, double flow) const {
        const double q = flow / capacity(open);
        return (std::sqrt(large_passage_knee / 2) + std::abs(q)) * q;
    }

    std::string drive() const { return name + ".open"; }
    void name_drives(Index& to, Names& names) const {
        to.open = names.add(drive(), "1", 1, "open share of the meshes of " + name + ", 1 clean");
    }
    void name_signals(Names& names) const {
        names.add(name + ".flow", flow_unit, 1e-2, "flow through " + name);
        names.add(name + ".drop", pascal, bar, "pressure that " + name + " takes");
    }
    template <class T> void observe(const Joined& to, const T* value, T*& out) const {
        const T ahead = value[to.from.pressure], behind = value[to.to.pressure];
        *out++ = flow(value[to.open], ahead, behind);
        *out++ = ahead - behind;
    }

    void join(Joined& to, const LineOf<P>& line) const {
        to.from = line.points[between.from];
        to.to = line.points[between.to];
    }

    template <class On> void visit_storages(const On&, const Joined&) const {}

    template <class On> void visit(On& on, const Joined& to) const {
        on(reads(to.from.pressure, to.to.pressure, to.open), writes(to.from.pressure, to.to.pressure),
           [this, per_from = to.from.per_volume, per_to = to.to.per_volume](auto ahead, auto behind,
                                                                            auto open) {
               const auto q = this->flow(open, ahead, behind);
               return rates(-q * per_from, q * per_to);
           });
    }

    static constexpr auto fields(auto& of) {
        return std::tie(of.name, of.between, of.body_capacity, of.screen_capacity, of.mesh_open);
    }
    bool operator==(const StrainerOf&) const = default;
};
using Strainer = StrainerOf<double>;

} // namespace needleturn::models
