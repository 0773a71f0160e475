/// Station: a supply, its pipe, one or more pilot-operated stages in parallel, the downstream pipe and the
/// demand, joined into one model (sim/contract/model.h). Here the parts are wired; their equations are in
/// their own files.
///
///     source = supply pipe = inlet =[stages]= outlet = downstream pipe = far end = demand
///
/// Pressures at inlet, outlet, far end, tees and sensing chambers are storages (models/storage.h).
#pragma once

#include "models/cover.h"
#include "models/demand.h"
#include "models/main_valve.h"
#include "models/pilot.h"
#include "models/pipe.h"
#include "models/sensing_line.h"
#include "models/speed_control.h"
#include "models/storage.h"
#include "models/water.h"
#include "sim/contract/model.h"

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace needleturn::models {

/// One pilot-operated stage: parameters only; names its states and drives.
struct PilotStage {
    std::string name = "main";
    MainValve valve;
    Cover cover;
    double restriction_capacity = 0; ///< fixed restriction, m3 s-1 Pa-1/2, > 0
    Storage tee;
    SpeedControl opening_control;
    SpeedControl closing_control;
    Pilot pilot;
    SensingLine sensing_line;
    Storage sensing_chamber;
};

/// Air caught at the far end, behind an opening.
///
///     dV/dt = -q,   p = p_atm (V_free / V)^n - p_atm,   q = C root(p_far_end - p) (22)
struct AirPocket {
    double free_air = 0; ///< m3 at atmospheric pressure, > 0
    double index = 1.2;  ///< n
    double capacity = 0; ///< of the opening, m3 s-1 Pa-1/2, > 0

    /// Gauge pressure, Pa, of the air compressed to `volume`, m3.
    template <class S> S pressure(S volume) const {
        using std::pow;
        return atmospheric_pressure * (pow(free_air / volume, index) - 1.0);
    }
};

/// Everything a station is made of. Storages at the points exclude the pipes', which the station adds.
struct StationParts {
    GasTrace trace;
    Pipe supply_pipe;
    Storage inlet;
    std::vector<PilotStage> stages;
    Storage outlet;
    Pipe downstream_pipe;
    Storage far_end;
    std::optional<AirPocket> air_pocket;
    bool draws = false; ///< the demand is a draw (models/demand.h), not outlets
};

class Station {
  public:
    /// Indices of the states and drives of one stage among the values.
    struct StageIndex {
        std::size_t lift, speed, cover, air, tee, pilot_lift, pilot_speed, sensing_flow, sensed; // states
        std::size_t set, opening, closing;                                                       // drives
    };
    /// Flows of the cells and pressures between them.
    struct PipeIndex {
        std::vector<std::size_t> flow;
        std::vector<std::size_t> between;
    };

    explicit Station(StationParts parts);

    const std::vector<Quantity>& states() const { return states_; }
    const std::vector<Quantity>& drives() const { return drives_; }
    const std::vector<Quantity>& signals() const { return signals_; }
    const StationParts& parts() const { return parts_; }

    /// A first guess of the steady states as stored, for find_equilibrium, from the values of the drives and
    /// the free air in each cover (m3).
    std::vector<double> start(std::span<const double> drives, std::span<const double> free_air) const;

    std::size_t inlet() const { return inlet_; }
    std::size_t outlet() const { return outlet_; }
    std::size_t far_end() const { return far_end_; }
    const StageIndex& stage(std::size_t i) const { return stages_[i]; }
    std::size_t supply_meter() const { return supply_meter_; }
    std::size_t demand_meter() const { return demand_meter_; }
    std::size_t source_drive() const { return source_; }
    std::size_t demand_drive() const { return demand_; }

    template <class On> void visit_storages(On&& on) const {
        const auto at = [&on](std::size_t state, const Storage& storage) {
            on(state, [&storage](auto b) { return storage.pressure(b); });
        };
        at(inlet_, inlet_storage_);
        at(outlet_, outlet_storage_);
        at(far_end_, far_end_storage_);
        for (const auto i : supply_pipe_.between)
            at(i, supply_cell_);
        for (const auto i : downstream_pipe_.between)
            at(i, downstream_cell_);
        for (std::size_t i = 0; i < stages_.size(); ++i) {
            at(stages_[i].tee, parts_.stages[i].tee);
            at(stages_[i].sensed, parts_.stages[i].sensing_chamber);
        }
        if (parts_.air_pocket)
            on(pocket_, [this](auto volume) { return parts_.air_pocket->pressure(volume); });
    }

    template <class On> void visit_elements(On&& on) const {
        visit_supply(on);
        visit_pipe(on, parts_.supply_pipe, supply_pipe_, supply_cell_, source_, inlet_, inlet_storage_);
        for (std::size_t i = 0; i < stages_.size(); ++i)
            visit_stage(on, parts_.stages[i], stages_[i]);
        visit_pipe(on, parts_.downstream_pipe, downstream_pipe_, downstream_cell_, outlet_, far_end_,
                   far_end_storage_);
        visit_demand(on);
    }

    /// Signals beyond states and drives, in the order of signals().
    void observe(std::span<const double> values, std::span<double> signals) const;

  private:
    /// The first cell: its upstream end is the source, whose pressure is known.
    template <class On> void visit_supply(On& on) const {
        on(reads(supply_pipe_.flow.front()), writes(supply_meter_), [](auto q) { return rates(q); });
    }

    /// Cells of a pipe from value `left` (a storage of the outlet kind, or the source, which stores nothing).
    template <class On> void visit_pipe(On& on, const Pipe& pipe, const PipeIndex& index, const Storage& cell,
                                        std::size_t left_end, std::size_t right_end,
                                        const Storage& right_storage) const {
        std::size_t left = left_end;
        for (std::size_t k = 0; k < index.flow.size(); ++k) {
            const bool last = k + 1 == index.flow.size();
            const std::size_t right = last ? right_end : index.between[k];
            const double right_per = 1 / (last ? right_storage : cell).per_pascal;
            const auto column = [&pipe](auto q, auto p_left, auto p_right) {
                return pipe.flow_rate(q, p_left, p_right);
            };
            if (left >= states_.size()) { // the source
                on(reads(index.flow[k], left, right), writes(index.flow[k], right),
                   [column, right_per](auto q, auto p_left, auto p_right) {
                       return rates(column(q, p_left, p_right), q * right_per);
                   });
            } else {
                const double left_per = 1 / (k == 0 ? outlet_storage_ : cell).per_pascal;
                on(reads(index.flow[k], left, right), writes(index.flow[k], left, right),
                   [column, left_per, right_per](auto q, auto p_left, auto p_right) {
                       return rates(column(q, p_left, p_right), -q * left_per, q * right_per);
                   });
            }
            left = right;
        }
    }

    template <class On> void visit_stage(On& on, const PilotStage& stage, const StageIndex& at) const {
        const double per_inlet = 1 / inlet_storage_.per_pascal;
        const double per_outlet = 1 / outlet_storage_.per_pascal;
        const double per_tee = 1 / stage.tee.per_pascal;
        const double per_chamber = 1 / stage.sensing_chamber.per_pascal;

        // Main trim: inlet to outlet.
        on(reads(inlet_, outlet_, at.lift), writes(inlet_, outlet_),
           [&stage, per_inlet, per_outlet](auto p1, auto p2, auto x) {
               const auto q = stage.valve.trim.flow(p1, p2, x);
               return rates(-q * per_inlet, q * per_outlet);
           });
        // Stem, and what it displaces.
        on(reads(at.speed), writes(at.lift, inlet_, outlet_), [&stage, per_inlet, per_outlet](auto v) {
            const double seat = stage.valve.seat_area;
            return rates(v, -seat * per_inlet * v, -(stage.valve.diaphragm_area - seat) * per_outlet * v);
        });
        on(reads(at.lift, at.speed, inlet_, outlet_, at.cover), writes(at.speed),
           [&stage](auto x, auto v, auto p1, auto p2, auto cover) {
               return rates(stage.valve.acceleration(x, v, p1, p2, cover));
           });
        // Fixed restriction: inlet to tee.
        on(reads(inlet_, at.tee), writes(inlet_, at.tee), [&stage, per_inlet, per_tee](auto p1, auto tee) {
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
        on(reads(at.tee, outlet_, at.pilot_lift), writes(at.tee, outlet_),
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
        on(reads(at.sensing_flow, outlet_, at.sensed), writes(at.sensing_flow, outlet_, at.sensed),
           [&stage, per_outlet, per_chamber](auto q, auto p2, auto sensed) {
               return rates(stage.sensing_line.flow_rate(q, p2, sensed), -q * per_outlet, q * per_chamber);
           });
    }

    template <class On> void visit_demand(On& on) const {
        const double per_far_end = 1 / far_end_storage_.per_pascal;
        if (parts_.draws)
            on(reads(far_end_, demand_), writes(far_end_, demand_meter_), [per_far_end](auto p, auto wanted) {
                const auto q = Draw{}.flow(wanted, p);
                return rates(-q * per_far_end, q);
            });
        else
            on(reads(far_end_, demand_), writes(far_end_, demand_meter_),
               [per_far_end](auto p, auto capacity) {
                   const auto q = Outlet{}.flow(capacity, p);
                   return rates(-q * per_far_end, q);
               });
        if (parts_.air_pocket)
            on(reads(far_end_, pocket_), writes(far_end_, pocket_), [this, per_far_end](auto p, auto air) {
                const auto q = parts_.air_pocket->capacity * drop_root(p - air, small_passage_knee);
                return rates(-q * per_far_end, -q);
            });
    }

    void lay_out();

    StationParts parts_;
    Storage inlet_storage_, outlet_storage_, far_end_storage_, supply_cell_, downstream_cell_;
    std::vector<Quantity> states_, drives_, signals_;
    std::size_t inlet_ = 0, outlet_ = 0, far_end_ = 0, pocket_ = 0, supply_meter_ = 0, demand_meter_ = 0;
    std::size_t source_ = 0, demand_ = 0;
    PipeIndex supply_pipe_, downstream_pipe_;
    std::vector<StageIndex> stages_;
};

} // namespace needleturn::models
