/// Station: supply, pipes, stages in parallel and demands joined into one model (sim/contract/model.h). Here the parts of
/// models/station_parts.h are wired; their equations are in their own files.
#pragma once

#include "models/demand.h"
#include "models/station_parts.h"
#include "sim/contract/model.h"

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace needleturn::models {

class Station {
  public:
    /// Indices of the states and drives of one stage among the values.
    struct StageIndex {
        std::size_t lift, speed, cover, air, tee, pilot_lift, pilot_speed, sensing_flow, sensed; // states
        std::size_t body; // state: pressure ahead of the seat, the inlet's where there is no cock
        std::size_t set, opening, closing, cock; // drives; without a cock the last means nothing
        std::size_t bleed;                       // drive, turns; without a bleed it means nothing
        std::size_t bled_air, spilt; // states: meters, of what bleed and leaks let into the open air
    };
    struct DirectIndex {
        std::size_t lift, speed, chamber, body; // states
        std::size_t set, cock;                  // drives
    };
    /// States of one pipe.
    struct PipeIndex {
        std::vector<std::size_t> flow; ///< of the cells
        std::vector<std::size_t>
            pressure;           ///< of the cells of an upwind pipe; of a staggered one, between its cells
        std::size_t memory = 0; ///< the first filter of the first cell; those of one cell stand together
    };
    struct DemandIndex {
        std::size_t pressure; // state, of its point
        std::size_t meter;    // state
        std::size_t wanted;   // drive: capacity of the outlets, or flow of the draw
    };

    /// Throws std::invalid_argument when a point stores nothing or the pipes are not a tree.
    explicit Station(StationParts parts);

    const std::vector<Quantity>& states() const { return states_; }
    const std::vector<Quantity>& drives() const { return drives_; }
    const std::vector<Quantity>& signals() const { return signals_; }
    const StationParts& parts() const { return parts_; }

    /// A first guess of the steady states as stored, for find_equilibrium, from the values of the drives and the free
    /// air in each cover (m3).
    std::vector<double> start(std::span<const double> drives, std::span<const double> free_air) const;

    std::size_t point(PointId id) const { return points_[id]; }        ///< state: its pressure
    const Storage& storage(PointId id) const { return storages_[id]; } ///< the pipes' shares included
    std::size_t inlet() const { return points_[parts_.inlet]; }
    std::size_t outlet() const { return points_[parts_.outlet]; }
    const StageIndex& stage(std::size_t i) const { return stages_[i]; }
    const DirectIndex& direct_stage(std::size_t i) const { return direct_stages_[i]; }
    const PipeIndex& pipe(std::size_t i) const { return pipes_[i]; }
    const Storage& pipe_cell(std::size_t i, std::size_t k) const {
        return cells_[i][k];
    } ///< of pipe(i).pressure[k]
    /// Places along a pipe where its pressure is known, from its left end: value (state or drive) and distance, m.
    struct Place {
        std::size_t value;
        double distance;
    };
    std::vector<Place> places(std::size_t pipe) const;
    const DemandIndex& demand(std::size_t i) const { return demands_[i]; }
    std::size_t air_pocket(std::size_t i) const {
        return pockets_[i];
    }                                              ///< state: its pressure, stored as volume
    std::size_t source() const { return source_; } ///< drive: pressure
    std::size_t supply_meter() const { return supply_meter_; }

    template <class On> void visit_storages(On&& on) const {
        const auto at = [&on](std::size_t state, const Storage& storage) {
            on(state, [&storage](auto b) { return storage.pressure(b); });
        };
        for (std::size_t i = 0; i < points_.size(); ++i)
            at(points_[i], storages_[i]);
        for (std::size_t i = 0; i < pipes_.size(); ++i)
            for (std::size_t k = 0; k < cells_[i].size(); ++k)
                at(pipes_[i].pressure[k], cells_[i][k]);
        for (std::size_t i = 0; i < stages_.size(); ++i) {
            at(stages_[i].tee, parts_.stages[i].tee);
            at(stages_[i].sensed, parts_.stages[i].sensing_chamber);
            if (const auto& cock = parts_.stages[i].cock)
                at(stages_[i].body, cock->body);
        }
        for (std::size_t i = 0; i < direct_stages_.size(); ++i) {
            at(direct_stages_[i].chamber, parts_.direct_stages[i].chamber);
            if (const auto& cock = parts_.direct_stages[i].cock)
                at(direct_stages_[i].body, cock->body);
        }
        for (std::size_t i = 0; i < pockets_.size(); ++i) {
            const auto& pocket = parts_.air_pockets[i];
            on(pockets_[i], [&pocket](auto volume) { return pocket.pressure(volume); });
        }
    }

    template <class On> void visit_elements(On&& on) const {
        for (std::size_t i = 0; i < pipes_.size(); ++i)
            visit_pipe(on, i);
        for (std::size_t i = 0; i < stages_.size(); ++i)
            visit_stage(on, parts_.stages[i], stages_[i]);
        for (std::size_t i = 0; i < direct_stages_.size(); ++i)
            visit_direct_stage(on, parts_.direct_stages[i], direct_stages_[i]);
        for (std::size_t i = 0; i < demands_.size(); ++i)
            visit_demand(on, parts_.demands[i], demands_[i]);
        for (std::size_t i = 0; i < pockets_.size(); ++i)
            visit_air_pocket(on, parts_.air_pockets[i], pockets_[i]);
        if (parts_.source_check)
            visit_source_check(on, *parts_.source_check);
    }

    /// Signals beyond states and drives, in the order of signals().
    void observe(std::span<const double> values, std::span<double> signals) const;

  private:
    template <class On> void visit_pipe(On& on, std::size_t i) const {
        if (parts_.pipes[i].pipe.upwind())
            visit_upwind_pipe(on, i);
        else
            visit_staggered_pipe(on, i);
        visit_memory(on, i);
    }

    /// Cell by cell from left to right; a source at the left end stores nothing and is metered instead.
    template <class On> void visit_staggered_pipe(On& on, std::size_t i) const {
        const auto& run = parts_.pipes[i];
        const Pipe& pipe = run.pipe;
        const PipeIndex& index = pipes_[i];
        for (std::size_t k = 0; k < index.flow.size(); ++k) {
            const bool last = k + 1 == index.flow.size();
            const std::size_t right = last ? points_[run.to] : index.pressure[k];
            const double per_right = 1 / (last ? storages_[run.to] : cells_[i][k]).per_pascal;
            if (k == 0 && !run.from) {
                on(reads(index.flow[k], source_, right), writes(index.flow[k], supply_meter_, right),
                   [&pipe, per_right](auto q, auto p_left, auto p_right) {
                       return rates(pipe.flow_rate(q, p_left, p_right), q, q * per_right);
                   });
                continue;
            }
            const std::size_t left = k == 0 ? points_[*run.from] : index.pressure[k - 1];
            const double per_left = 1 / (k == 0 ? storages_[*run.from] : cells_[i][k - 1]).per_pascal;
            on(reads(index.flow[k], left, right), writes(index.flow[k], left, right),
               [&pipe, per_left, per_right](auto q, auto p_left, auto p_right) {
                   return rates(pipe.flow_rate(q, p_left, p_right), -q * per_left, q * per_right);
               });
        }
    }

    /// Face by face from left to right, then what acts within the cells. The right end is the left one seen in a mirror.
    template <class On> void visit_upwind_pipe(On& on, std::size_t i) const {
        const auto& run = parts_.pipes[i];
        const Pipe& pipe = run.pipe;
        const auto& q = pipes_[i].flow;
        const auto& p = pipes_[i].pressure;
        const std::size_t n = q.size();
        const double floor = limiter_floor(static_cast<double>(n));
        const Upwind scheme{pipe.impedance(), floor * floor};
        const double speed = pipe.flow_rate_per_pascal(); // dq/dt of a cell per pascal at one of its faces
        const double per_cell = 1 / pipe.cell_storage();
        const double per_first = 1 / cells_[i].front().per_pascal, per_last = 1 / cells_[i].back().per_pascal;
        const std::size_t right = points_[run.to];
        const double per_right = 1 / storages_[run.to].per_pascal;

        // Flow into the pipe at an end, and what the end does to the momentum of the cell beside it.
        const auto at_end = [=](double share, auto end, auto p1, auto q1, auto p2, auto q2) {
            using S = decltype(p1);
            const PipeCell<S> first{p1, q1}, second{p2, q2};
            const S flow = scheme.inflow(end, first, second);
            const S front = scheme.front_impedance(share, end, first, second);
            return PipeCell<S>{end + front * flow, flow};
        };
        // The same of the first cell's other face: flow, what it does to the first cell, and to the second.
        const auto beside = [=](double share, auto end, auto p1, auto q1, auto p2, auto q2, auto p3,
                                auto q3) {
            using S = decltype(p1);
            const PipeCell<S> first{p1, q1}, second{p2, q2};
            const auto face = scheme.beside_end(end, first, second, PipeCell<S>{p3, q3});
            const S front = scheme.front_impedance(share, end, first, second);
            return std::array<S, 3>{face.flow, face.pressure + front * face.flow, face.pressure};
        };
        const std::size_t left = run.from ? points_[*run.from] : source_;
        // What leaves the left point: a source is metered, a point loses it.
        const std::size_t account = run.from ? left : supply_meter_;
        const double per_account = run.from ? -1 / storages_[*run.from].per_pascal : 1.0;
        const double left_share = run.from ? end_share : 0;
        on(reads(left, p[0], q[0], p[1], q[1]), writes(account, p[0], q[0]),
           [=](auto end, auto p1, auto q1, auto p2, auto q2) {
               const auto in = at_end(left_share, end, p1, q1, p2, q2);
               return rates(per_account * in.flow, per_first * in.flow, speed * in.pressure);
           });
        on(reads(left, p[0], q[0], p[1], q[1], p[2], q[2]), writes(p[0], q[0], p[1], q[1]),
           [=](auto end, auto p1, auto q1, auto p2, auto q2, auto p3, auto q3) {
               const auto [flow, on_first, on_second] = beside(left_share, end, p1, q1, p2, q2, p3, q3);
               return rates(-per_first * flow, -speed * on_first, per_cell * flow, speed * on_second);
           });
        for (std::size_t k = 1; k + 2 < n; ++k)
            on(reads(p[k - 1], q[k - 1], p[k], q[k], p[k + 1], q[k + 1], p[k + 2], q[k + 2]),
               writes(p[k], q[k], p[k + 1], q[k + 1]),
               [=](auto p1, auto q1, auto p2, auto q2, auto p3, auto q3, auto p4, auto q4) {
                   using S = decltype(p1);
                   const auto face = scheme.between(PipeCell<S>{p1, q1}, PipeCell<S>{p2, q2},
                                                    PipeCell<S>{p3, q3}, PipeCell<S>{p4, q4});
                   return rates(-per_cell * face.flow, -speed * face.pressure, per_cell * face.flow,
                                speed * face.pressure);
               });
        on(reads(right, p[n - 1], q[n - 1], p[n - 2], q[n - 2], p[n - 3], q[n - 3]),
           writes(p[n - 1], q[n - 1], p[n - 2], q[n - 2]),
           [=](auto end, auto p1, auto q1, auto p2, auto q2, auto p3, auto q3) {
               const auto [flow, on_first, on_second] = beside(end_share, end, p1, -q1, p2, -q2, p3, -q3);
               return rates(-per_last * flow, speed * on_first, per_cell * flow, -speed * on_second);
           });
        on(reads(right, p[n - 1], q[n - 1], p[n - 2], q[n - 2]), writes(right, p[n - 1], q[n - 1]),
           [=](auto end, auto p1, auto q1, auto p2, auto q2) {
               const auto in = at_end(end_share, end, p1, -q1, p2, -q2);
               return rates(-per_right * in.flow, per_last * in.flow, -speed * in.pressure);
           });
        for (const auto cell : q)
            on(reads(cell), writes(cell), [&pipe, speed](auto flow) {
                return rates(-speed * (pipe.loss(flow) + pipe.cell_rise_pressure()));
            });
    }

    /// Equations (25) and (26), filter by filter.
    template <class On> void visit_memory(On& on, std::size_t i) const {
        const Pipe& pipe = parts_.pipes[i].pipe;
        const double viscous = pipe.viscous_rate();
        const double drag = 4 * viscous / (1 + 4 * pipe.memory.inertia);
        std::size_t state = pipes_[i].memory;
        for (const auto cell : pipes_[i].flow)
            for (const auto& filter : pipe.memory.filters) {
                on(reads(cell, state), writes(cell, state),
                   [drag, weight = filter.weight, pace = filter.rate * viscous](auto q, auto z) {
                       const auto lag = weight * q - z;
                       return rates(-drag * lag, pace * lag);
                   });
                ++state;
            }
    }

    template <class On> void visit_stage(On& on, const PilotStage& stage, const StageIndex& at) const {
        const double per_inlet = 1 / body(stage.cock).per_pascal;
        const double per_outlet = 1 / storages_[parts_.outlet].per_pascal;
        const double per_tee = 1 / stage.tee.per_pascal;
        const double per_chamber = 1 / stage.sensing_chamber.per_pascal;
        const std::size_t p_in = at.body;
        const std::size_t p_out = outlet();
        if (stage.cock)
            visit_cock(on, *stage.cock, at.body, at.cock);

        // Main trim: inlet to outlet.
        on(reads(p_in, p_out, at.lift), writes(p_in, p_out),
           [&stage, per_inlet, per_outlet](auto p1, auto p2, auto x) {
               const auto q = stage.valve.trim.flow(p1, p2, x);
               return rates(-q * per_inlet, q * per_outlet);
           });
        // Stem, and what it displaces.
        on(reads(at.speed), writes(at.lift, p_in, p_out), [&stage, per_inlet, per_outlet](auto v) {
            const double seat = stage.valve.seat_area;
            return rates(v, -seat * per_inlet * v, -(stage.valve.diaphragm_area - seat) * per_outlet * v);
        });
        on(reads(at.lift, at.speed, p_in, p_out, at.cover), writes(at.speed),
           [&stage](auto x, auto v, auto p1, auto p2, auto cover) {
               return rates(stage.valve.acceleration(x, v, p1, p2, cover));
           });
        // Fixed restriction: inlet to tee.
        on(reads(p_in, at.tee), writes(p_in, at.tee), [&stage, per_inlet, per_tee](auto p1, auto tee) {
            const auto q = stage.restriction_capacity * drop_root(p1 - tee, small_passage_knee);
            return rates(-q * per_inlet, q * per_tee);
        });
        // Speed controls and cover: tee to cover.
        on(reads(at.tee, at.cover, at.lift, at.speed, at.air, at.opening, at.closing),
           writes(at.tee, at.cover),
           [&stage, per_tee](auto tee, auto cover, auto x, auto v, auto air, auto opening, auto closing) {
               const auto q =
                   cover_flow(stage.opening_control, opening, stage.closing_control, closing, tee, cover);
               return rates(-q * per_tee, stage.cover.pressure_rate(cover, x, air, q, v));
           });
        // Pilot seat: tee to outlet.
        on(reads(at.tee, p_out, at.pilot_lift), writes(at.tee, p_out),
           [&stage, per_tee, per_outlet](auto tee, auto p2, auto y) {
               const auto q = stage.pilot.flow(y, tee, p2);
               return rates(-q * per_tee, q * per_outlet);
           });
        // Pilot stem.
        on(reads(at.pilot_speed), writes(at.pilot_lift, at.sensed),
           [&stage, per_chamber](auto w) { return rates(w, stage.pilot.diaphragm_area * w * per_chamber); });
        on(reads(at.pilot_lift, at.pilot_speed, at.set, at.sensed), writes(at.pilot_speed),
           [&stage](auto y, auto w, auto set, auto sensed) {
               return rates(stage.pilot.acceleration(y, w, set, sensed));
           });
        // Sensing line: outlet to chamber.
        on(reads(at.sensing_flow, p_out, at.sensed), writes(at.sensing_flow, p_out, at.sensed),
           [&stage, per_outlet, per_chamber](auto q, auto p2, auto sensed) {
               return rates(stage.sensing_line.flow_rate(q, p2, sensed), -q * per_outlet, q * per_chamber);
           });
        if (stage.bleed)
            visit_bleed(on, *stage.bleed, stage.cover, at);
        visit_leaks(on, stage, at);
    }

    template <class On>
    void visit_bleed(On& on, const Bleed& bleed, const Cover& cover, const StageIndex& at) const {
        on(reads(at.cover, at.lift, at.air, at.bleed), writes(at.cover, at.air, at.bled_air, at.spilt),
           [&bleed, &cover](auto p, auto x, auto free_air, auto turns) {
               using S = decltype(p);
               const auto air = bleed.air_flow(turns, p, free_air, cover.air_index);
               const auto water = bleed.water_flow(turns, p, free_air, cover.air_index);
               const auto gone = water + cover.in_place_of_air(p, air);
               return rates(cover.pressure_rate(p, x, free_air, S(-gone), S(0.0)), -air, air, water);
           });
    }

    /// Equation (37), for the leaks there are.
    template <class On> void visit_leaks(On& on, const PilotStage& stage, const StageIndex& at) const {
        const double per_outlet = 1 / storages_[parts_.outlet].per_pascal;
        if (stage.leaks.seat > 0)
            on(reads(at.body, outlet()), writes(at.body, outlet()),
               [&stage, per_outlet, per_body = 1 / body(stage.cock).per_pascal](auto p1, auto p2) {
                   const auto q = stage.leaks.seat * drop_root(p1 - p2, large_passage_knee);
                   return rates(-q * per_body, q * per_outlet);
               });
        if (stage.leaks.main_diaphragm > 0)
            on(reads(at.cover, at.lift, at.air, outlet()), writes(at.cover, outlet()),
               [&stage, per_outlet](auto cover, auto x, auto air, auto p2) {
                   using S = decltype(cover);
                   const auto q = stage.leaks.main_diaphragm * drop_root(cover - p2, small_passage_knee);
                   return rates(stage.cover.pressure_rate(cover, x, air, S(-q), S(0.0)), q * per_outlet);
               });
        if (stage.leaks.pilot_diaphragm > 0)
            on(reads(at.sensed), writes(at.sensed, at.spilt),
               [&stage, per_chamber = 1 / stage.sensing_chamber.per_pascal](auto sensed) {
                   const auto q = stage.leaks.pilot_diaphragm * drop_root(sensed, small_passage_knee);
                   return rates(-q * per_chamber, q);
               });
    }

    template <class On>
    void visit_direct_stage(On& on, const DirectStage& stage, const DirectIndex& at) const {
        const double per_body = 1 / body(stage.cock).per_pascal;
        const double per_outlet = 1 / storages_[parts_.outlet].per_pascal;
        const double per_chamber = 1 / stage.chamber.per_pascal;
        const std::size_t p_out = outlet();
        if (stage.cock)
            visit_cock(on, *stage.cock, at.body, at.cock);

        // Trim: body to outlet.
        on(reads(at.body, p_out, at.lift), writes(at.body, p_out),
           [&stage, per_body, per_outlet](auto p1, auto p2, auto x) {
               const auto q = stage.valve.trim.flow(p1, p2, x);
               return rates(-q * per_body, q * per_outlet);
           });
        // Stem, and what its diaphragm displaces.
        on(reads(at.speed), writes(at.lift, at.chamber),
           [&stage, per_chamber](auto v) { return rates(v, stage.valve.diaphragm_area * per_chamber * v); });
        on(reads(at.lift, at.speed, at.set, at.chamber), writes(at.speed),
           [&stage](auto x, auto v, auto set, auto sensed) {
               return rates(stage.valve.acceleration(x, v, set, sensed));
           });
        // Sensing port: outlet to chamber.
        on(reads(p_out, at.chamber), writes(p_out, at.chamber),
           [&stage, per_outlet, per_chamber](auto p2, auto sensed) {
               const auto q = stage.valve.port_flow(p2, sensed);
               return rates(-q * per_outlet, q * per_chamber);
           });
    }

    /// Inlet to the body of a stage.
    template <class On>
    void visit_cock(On& on, const InletCock& cock, std::size_t p_body, std::size_t opening) const {
        const double per_inlet = 1 / storages_[parts_.inlet].per_pascal;
        const double per_body = 1 / cock.body.per_pascal;
        on(reads(inlet(), p_body, opening), writes(inlet(), p_body),
           [&cock, per_inlet, per_body](auto p1, auto p, auto h) {
               const auto q = cock.cock.flow(h, p1, p);
               return rates(-q * per_inlet, q * per_body);
           });
    }

    /// What stores water ahead of a stage's seat.
    const Storage& body(const std::optional<InletCock>& cock) const {
        return cock ? cock->body : storages_[parts_.inlet];
    }

    template <class On> void visit_demand(On& on, const DemandPoint& demand, const DemandIndex& at) const {
        const double per_point = 1 / storages_[demand.at].per_pascal;
        if (demand.draws)
            on(reads(at.pressure, at.wanted), writes(at.pressure, at.meter),
               [per_point](auto p, auto wanted) {
                   const auto q = Draw{}.flow(wanted, p);
                   return rates(-q * per_point, q);
               });
        else
            on(reads(at.pressure, at.wanted), writes(at.pressure, at.meter),
               [per_point](auto p, auto capacity) {
                   const auto q = Outlet{}.flow(capacity, p);
                   return rates(-q * per_point, q);
               });
    }

    template <class On> void visit_air_pocket(On& on, const AirPocket& pocket, std::size_t volume) const {
        const double per_point = 1 / storages_[pocket.at].per_pascal;
        on(reads(points_[pocket.at], volume), writes(points_[pocket.at], volume),
           [&pocket, per_point](auto p, auto air) {
               const auto q = pocket.capacity * drop_root(p - air, small_passage_knee);
               return rates(-q * per_point, -q);
           });
    }

    template <class On> void visit_source_check(On& on, const SourceCheck& check) const {
        const double per_point = 1 / storages_[check.at].per_pascal;
        on(reads(source_, points_[check.at]), writes(supply_meter_, points_[check.at]),
           [&check, per_point](auto source, auto p) {
               const auto q = check.flow(source, p);
               return rates(q, q * per_point);
           });
    }

    /// Flow that a demand takes at a pressure, from the values of the drives.
    double demand_flow(std::size_t i, double wanted, double pressure) const;

    /// Gas, m3, in the parted cells of a pipe; 0 where none is parted.
    double cavity(std::size_t pipe, std::span<const double> values) const;

    void add_up_storages();
    void name_states();
    void name_drives();
    void name_signals();

    StationParts parts_;
    std::vector<Storage> storages_;           ///< per point
    std::vector<std::vector<Storage>> cells_; ///< per pipe, of its pressures
    std::vector<Quantity> states_, drives_, signals_;
    std::vector<std::size_t> points_, pockets_;
    std::vector<PipeIndex> pipes_;
    std::vector<StageIndex> stages_;
    std::vector<DirectIndex> direct_stages_;
    std::vector<DemandIndex> demands_;
    std::size_t supply_meter_ = 0, source_ = 0;
};

} // namespace needleturn::models
