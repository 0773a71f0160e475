/// A pipe between two points, or from a source whose pressure is known: its states, and its equations as elements.
/// Numbers: models/parts/pipe.h. What passes between cells: models/laws/upwind.h.
#pragma once

#include "models/line.h"
#include "models/names.h"
#include "models/parts/pipe.h"
#include "sim/contract/model.h"

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

namespace needleturn::models {

/// Where the states of a pipe are among the values.
struct PipeIndex {
    std::vector<std::size_t> flow; ///< of the cells
    std::vector<std::size_t>
        pressure;           ///< of the cells of an upwind pipe; of a staggered one, between its cells
    std::size_t memory = 0; ///< the first filter of the first cell; those of one cell stand together
    bool upwind = false;
};

template <class P> struct PipeRunOf {
    std::string name;
    PipeOf<P> pipe;
    std::optional<PointId> from; ///< none: from the source
    PointId to = 0;

    using Index = PipeIndex;
    struct Joined : Index {
        std::vector<StorageOf<P>> cells; ///< of its pressures
        PortOf<P> left, right;           ///< at a source `per_volume` means nothing
        std::size_t supply_meter = 0;
        CellMotionOf<P> motion;
        P viscous = 0; ///< 1/s
        P drag = 0;    ///< 1/s, of (25)
        UpwindOf<P> scheme;
        P per_cell = 0, per_first = 0,
          per_last = 0; ///< 1 / storage of an inner cell, of the first and of the last
    };

    void name_states(Index& at, Names& names, LineOf<P>&) const {
        names.part = spoken(name);
        constexpr double speed = 0.5; // m/s, of water in a main
        const auto number = [this](std::size_t k) {
            return pipe.cells > 1 ? "_" + std::to_string(k + 1) : std::string();
        };
        at.upwind = pipe.upwind();
        const std::size_t pressures = at.upwind ? pipe.cells : pipe.cells - 1;
        for (std::size_t k = 0; k < pipe.cells; ++k) {
            const bool inner = k > 0 && k + 1 < pipe.cells;
            at.flow.push_back(names.add(name + ".flow" + number(k), flow_unit, pipe.area() * speed,
                                        "flow in " + name + ", towards the demand", Role::dynamic,
                                        inner ? Kept::extremes : Kept::samples));
            if (k < pressures)
                at.pressure.push_back(names.add(name + ".pressure" + number(k), pascal, bar,
                                                "pressure in " + name, Role::dynamic, Kept::extremes));
        }
        const auto& filters = pipe.memory.filters;
        at.memory = names.next();
        for (std::size_t k = 0; k < pipe.cells; ++k)
            for (std::size_t f = 0; f < filters.size(); ++f)
                names.add(name + ".memory" + number(k) + "_" + std::to_string(f + 1), flow_unit,
                          filters[f].weight * pipe.area() * speed,
                          "flow that the unsteady friction of " + name + " remembers", Role::dynamic,
                          Kept::extremes);
    }

    void name_signals(Names& names) const {
        if (pipe.upwind() || pipe.cells > 1)
            names.add(name + ".cavity", "m3", 1e-5,
                      "gas inside " + name + ", its ends aside, where the water column is parted");
    }
    template <class T> void observe(const Joined& at, const T* value, T*& out) const {
        if (!at.cells.empty())
            *out++ = cavity(at, value);
    }

    /// Gas, m3, in the parted cells; 0 where none is parted.
    template <class T> T cavity(const Joined& at, const T* value) const {
        const T parts_below = at.cells.front().parts_below(); // the same water all along
        T gas = 0;
        for (std::size_t k = 0; k < at.cells.size(); ++k)
            if (const T pressure = value[at.pressure[k]]; pressure < parts_below)
                gas += at.cells[k].gas_volume(pressure);
        return gas;
    }

    void join(Joined& at, const LineOf<P>& line) const {
        at.cells.assign(at.pressure.size(), {pipe.cell_storage(), pipe.modulus(), line.trace});
        if (at.upwind) { // a source stores nothing, so the cell beside it is whole
            const P beside_end = pipe.end_cell_storage();
            at.cells.back().per_pascal = beside_end;
            if (from)
                at.cells.front().per_pascal = beside_end;
            at.scheme = UpwindOf<P>::of(pipe.impedance(), pipe.cells);
            at.per_first = 1.0 / at.cells.front().per_pascal;
            at.per_last = 1.0 / at.cells.back().per_pascal;
        }
        if (!at.cells.empty())
            at.per_cell = 1.0 / pipe.cell_storage();
        at.left = from ? line.points[*from] : PortOf<P>{line.source, 0.0};
        at.right = line.points[to];
        at.supply_meter = line.supply_meter;
        at.motion = pipe.cell_motion();
        at.viscous = pipe.viscous_rate();
        at.drag = 4.0 * at.viscous / (1.0 + 4.0 * pipe.memory.inertia);
    }

    template <class On> void visit_storages(const On& on, const Joined& at) const {
        for (std::size_t k = 0; k < at.cells.size(); ++k)
            on(at.pressure[k], at.cells[k]);
    }

    template <class On> void visit(On& on, const Joined& at) const {
        if (at.upwind)
            visit_upwind(on, at);
        else
            visit_staggered(on, at);
        visit_memory(on, at);
    }

    /// Places along the pipe where its pressure is known, on(place among the values, distance from its left end in m).
    template <class On> void visit_places(const On& on, const Joined& at) const {
        on(at.left.pressure, 0.0);
        for (std::size_t k = 0; k < at.pressure.size(); ++k)
            on(at.pressure[k], (static_cast<double>(k) + (at.upwind ? 0.5 : 1.0)) * pipe.cell_length());
        on(at.right.pressure, pipe.length);
    }

    /// Steady flow between two pressures, Pa, as states as stored.
    void put_rest(const Joined& at, double flow, double left, double right, std::vector<double>& y) const {
        std::size_t memory = at.memory;
        for (const auto k : at.flow) {
            y[k] = flow;
            for (const auto& filter : pipe.memory.filters)
                y[memory++] = filter.weight * flow;
        }
        for (std::size_t k = 0; k < at.pressure.size(); ++k) {
            const double place = static_cast<double>(k) + (at.upwind ? 0.5 : 1.0); // in cells
            const double way = place / static_cast<double>(pipe.cells);
            y[at.pressure[k]] = at.cells[k].virtual_pressure(left + way * (right - left));
        }
    }

    static constexpr auto fields(auto& of) { return std::tie(of.name, of.pipe, of.from, of.to); }
    bool operator==(const PipeRunOf&) const = default;

  private:
    /// Cell by cell from left to right; a source at the left end stores nothing and is metered instead.
    template <class On> void visit_staggered(On& on, const Joined& at) const {
        const auto flow_rate = [&at](auto q, auto p_left, auto p_right) {
            return at.motion.flow_rate(q, p_left, p_right);
        };
        const std::size_t last = at.flow.size() - 1;
        for (std::size_t k = 0; k <= last; ++k) {
            const auto q_at = at.flow[k];
            const auto right = k == last ? at.right.pressure : at.pressure[k];
            const P per_right = k == last ? at.right.per_volume : at.per_cell;
            if (k == 0 && !from) {
                on(reads(q_at, at.left.pressure, right), writes(q_at, at.supply_meter, right),
                   [flow_rate, per_right](auto q, auto p_left, auto p_right) {
                       return rates(flow_rate(q, p_left, p_right), q, q * per_right);
                   });
                continue;
            }
            const auto left = k == 0 ? at.left.pressure : at.pressure[k - 1];
            const P per_left = k == 0 ? at.left.per_volume : at.per_cell;
            on(reads(q_at, left, right), writes(q_at, left, right),
               [flow_rate, per_left, per_right](auto q, auto p_left, auto p_right) {
                   return rates(flow_rate(q, p_left, p_right), -q * per_left, q * per_right);
               });
        }
    }

    /// The left end of an upwind pipe; the right one is it seen in a mirror.
    struct End {
        UpwindOf<P> scheme;
        double share; ///< of the first cell's volume, that stands at the end; 0 at a source

        /// Flow into the pipe, and as pressure what the end does to the momentum of the cell beside it.
        template <class S> PipeCell<S> at_end(S end, S p1, S q1, S p2, S q2) const {
            const PipeCell<S> first{p1, q1}, second{p2, q2};
            const S flow = scheme.inflow(end, first, second);
            const S front = scheme.front_impedance(share, end, first, second);
            return {end + front * flow, flow};
        }
        /// The same of the first cell's other face: flow, what it does to the first cell, and to the second.
        template <class S> std::array<S, 3> beside(S end, S p1, S q1, S p2, S q2, S p3, S q3) const {
            const PipeCell<S> first{p1, q1}, second{p2, q2};
            const auto face = scheme.beside_end(end, first, second, PipeCell<S>{p3, q3});
            const S front = scheme.front_impedance(share, end, first, second);
            return {face.flow, face.pressure + front * face.flow, face.pressure};
        }
    };

    /// Face by face from left to right, then what acts within the cells.
    template <class On> void visit_upwind(On& on, const Joined& at) const {
        visit_left_end(on, at);
        const auto& q = at.flow;
        const auto& p = at.pressure;
        const P speed = at.motion.per_pascal;
        for (std::size_t k = 1; k + 2 < q.size(); ++k)
            on(reads(p[k - 1], q[k - 1], p[k], q[k], p[k + 1], q[k + 1], p[k + 2], q[k + 2]),
               writes(p[k], q[k], p[k + 1], q[k + 1]),
               [scheme = at.scheme, speed, per_cell = at.per_cell](auto p1, auto q1, auto p2, auto q2,
                                                                   auto p3, auto q3, auto p4, auto q4) {
                   using S = decltype(p1);
                   const auto face = scheme.between(PipeCell<S>{p1, q1}, PipeCell<S>{p2, q2},
                                                    PipeCell<S>{p3, q3}, PipeCell<S>{p4, q4});
                   return rates(-per_cell * face.flow, -speed * face.pressure, per_cell * face.flow,
                                speed * face.pressure);
               });
        visit_right_end(on, at);
        for (const auto cell : q)
            on(reads(cell), writes(cell),
               [&at, speed](auto flow) { return rates(-speed * (at.motion.loss(flow) + at.motion.rise)); });
    }

    template <class On> void visit_left_end(On& on, const Joined& at) const {
        const auto& q = at.flow;
        const auto& p = at.pressure;
        const std::size_t left = at.left.pressure;
        // What leaves the left point: a source is metered, a point loses it.
        const std::size_t account = from ? left : at.supply_meter;
        const P per_account = from ? P(-at.left.per_volume) : P(1.0);
        const End outer{at.scheme, from ? end_share : 0};
        const P speed = at.motion.per_pascal, per_first = at.per_first;
        on(reads(left, p[0], q[0], p[1], q[1]), writes(account, p[0], q[0]),
           [outer, speed, per_account, per_first](auto end, auto p1, auto q1, auto p2, auto q2) {
               const auto in = outer.at_end(end, p1, q1, p2, q2);
               return rates(per_account * in.flow, per_first * in.flow, speed * in.pressure);
           });
        on(reads(left, p[0], q[0], p[1], q[1], p[2], q[2]), writes(p[0], q[0], p[1], q[1]),
           [outer, speed, per_first, per_cell = at.per_cell](auto end, auto p1, auto q1, auto p2, auto q2,
                                                             auto p3, auto q3) {
               const auto [flow, on_first, on_second] = outer.beside(end, p1, q1, p2, q2, p3, q3);
               return rates(-per_first * flow, -speed * on_first, per_cell * flow, speed * on_second);
           });
    }

    template <class On> void visit_right_end(On& on, const Joined& at) const {
        const auto& q = at.flow;
        const auto& p = at.pressure;
        const std::size_t n = q.size(), right = at.right.pressure;
        const End outer{at.scheme, end_share};
        const P speed = at.motion.per_pascal, per_last = at.per_last;
        on(reads(right, p[n - 1], q[n - 1], p[n - 2], q[n - 2], p[n - 3], q[n - 3]),
           writes(p[n - 1], q[n - 1], p[n - 2], q[n - 2]),
           [outer, speed, per_last, per_cell = at.per_cell](auto end, auto p1, auto q1, auto p2, auto q2,
                                                            auto p3, auto q3) {
               const auto [flow, on_first, on_second] = outer.beside(end, p1, -q1, p2, -q2, p3, -q3);
               return rates(-per_last * flow, speed * on_first, per_cell * flow, -speed * on_second);
           });
        on(reads(right, p[n - 1], q[n - 1], p[n - 2], q[n - 2]), writes(right, p[n - 1], q[n - 1]),
           [outer, speed, per_last, per_right = at.right.per_volume](auto end, auto p1, auto q1, auto p2,
                                                                     auto q2) {
               const auto in = outer.at_end(end, p1, -q1, p2, -q2);
               return rates(-per_right * in.flow, per_last * in.flow, -speed * in.pressure);
           });
    }

    /// Equations (25) and (26), filter by filter.
    template <class On> void visit_memory(On& on, const Joined& at) const {
        std::size_t state = at.memory;
        for (const auto cell : at.flow)
            for (const auto& filter : pipe.memory.filters) {
                on(reads(cell, state), writes(cell, state),
                   [drag = at.drag, weight = filter.weight, pace = filter.rate * at.viscous](auto q, auto z) {
                       const auto lag = weight * q - z;
                       return rates(-drag * lag, pace * lag);
                   });
                ++state;
            }
    }
};
using PipeRun = PipeRunOf<double>;

} // namespace needleturn::models
