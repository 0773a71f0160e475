#include "scenarios/line_layer.h"

#include "models/names.h"
#include "models/parts/demand.h"
#include "scenarios/connected.h"
#include "scenarios/flutter.h"

#include <cstddef>
#include <optional>
#include <utility>

namespace needleturn::scenarios {

namespace {

class LineLayer {
  public:
    LineLayer(const PartBuilder& builder, const models::Water& water, const Scenario& scenario,
              models::StationParts& parts, NamedDrives& drives, const Fineness& fineness)
        : builder_{builder},
          water_{water},
          scenario_{scenario},
          parts_{parts},
          drives_{drives},
          fineness_{fineness} {}

    std::optional<models::BetweenPoints> lay() {
        const auto& supply = scenario_.supply;
        const auto& downstream = scenario_.downstream;
        double flow = scenario_.demand.start;
        for (const auto& branch : downstream.branches)
            flow += branch.demand.start;
        double supplied = flow;
        for (const auto& consumer : supply.consumers)
            supplied += consumer.demand.start;

        parts_.points = {{"inlet", {}}, {"outlet", {}}, {"far_end", {}}};
        parts_.inlet = inlet;
        parts_.outlet = outlet;
        drives_.emplace(models::source_drive,
                        schedule(supply.pressure, supply.steps, [](double pressure) { return pressure; }));
        lay_supply(supplied);
        if (supply.strainer)
            drives_.emplace(
                parts_.strainer.value().drive(),
                schedule(supply.strainer->open, supply.strainer->steps, [](double open) { return open; }));
        const auto header = lay_downstream(flow);
        parts_.points[inlet].storage = builder_.with_pieces(
            storage(supply.storage + (first_step_ ? 0 : strainer_storage_), parts_.pipes[supply_pipe_].pipe),
            supply.pipes_beside);
        parts_.points[outlet].storage = builder_.with_pieces(
            storage(downstream.storage, parts_.pipes[downstream_pipe_].pipe), downstream.pipes_beside);
        parts_.points[far_end].storage = storage(downstream.far_end_storage, header);

        const double set = scenario_.stages.front().set_pressure;
        const auto& before = supply_near_end_;
        add_vessels("supply_vessel", supply.vessels, before.value_or(inlet), inlet, supply.pipe.bore);
        add_demand("demand", scenario_.demand, far_end);
        for (const auto& consumer : supply.consumers)
            add_demand(consumer.name, consumer.demand, inlet);
        if (downstream.air_pocket.volume > 0)
            parts_.air_pockets.push_back(
                builder_.air_pocket("air_pocket", downstream.air_pocket, set, far_end, header.bore));
        add_vessels("vessel", downstream.vessels, outlet, far_end, downstream.pipe.bore);
        for (const auto& relief : downstream.reliefs)
            parts_.relief_valves.push_back(
                builder_.relief_valve(relief, relief.at == ReliefValve::At::near_end ? outlet : far_end));
        for (const auto& branch : downstream.branches)
            lay_branch(branch, set);
        return first_step_;
    }

  private:
    static constexpr models::PointId inlet = 0, outlet = 1, far_end = 2;

    models::Storage storage(double stated, const models::Pipe& beside) const {
        return builder_.storage(stated, water_.density * beside.wave_speed * beside.wave_speed);
    }

    models::PointId add_point(std::string name, double stated, const models::Pipe& beside) {
        parts_.points.push_back({std::move(name), storage(stated, beside)});
        return parts_.points.size() - 1;
    }

    models::Pipe pipe_before(const Pipe& from, double flow) const {
        return builder_.pipe(from, flow, scenario_.supply.pressure, fineness_);
    }
    models::Pipe pipe_behind(const Pipe& from, double flow) const {
        return builder_.pipe(from, flow, scenario_.stages.front().set_pressure, fineness_);
    }

    void lay_supply(double flow) {
        const auto& supply = scenario_.supply;
        const bool steps = in_two_steps(scenario_.stages);
        std::optional<models::PointId> from;
        const auto begin = [&](const models::Pipe& first) {
            if (supply.backflow == Supply::Backflow::stopped) {
                from = add_point("pump", 0, first);
                parts_.source_check = builder_.source_check(*from, first);
            }
        };
        for (std::size_t i = 0; i < supply.pipes_before.size(); ++i) {
            const auto laid = pipe_before(supply.pipes_before[i], flow);
            if (i == 0)
                begin(laid);
            const auto number = std::to_string(i + 1);
            const bool to_first_step = steps && i + 1 == supply.pipes_before.size();
            auto to = add_point(to_first_step ? "first_step_inlet" : "supply_joint_" + number, 0, laid);
            const auto stages_at = to;
            if (to_first_step) {
                to = ahead_of_strainer(to, laid);
                parts_.points[stages_at].storage = storage(strainer_storage_, laid);
            }
            parts_.pipes.push_back({"supply_pipe_" + number, laid, from, to});
            from = stages_at;
        }
        auto last = pipe_before(supply.pipe, flow);
        if (steps) {
            last = builder_.pipe(supply.pipe, flow, inlet_pressure(scenario_, scenario_.stages.front()),
                                 fineness_);
            first_step_ = {from.value(), add_point("first_step_outlet", 0, last)};
            from = first_step_->to;
        }
        if (supply.pipes_before.empty())
            begin(last);
        supply_near_end_ = from;
        supply_pipe_ = parts_.pipes.size();
        const auto end = steps ? inlet : ahead_of_strainer(inlet, last);
        parts_.pipes.push_back({"supply_pipe", last, from, end});
    }

    /// Where the pipe that leads to `stages` ends: there, or ahead of the strainer, whose body holds four bores of the pipe (chosen).
    models::PointId ahead_of_strainer(models::PointId stages, const models::Pipe& pipe) {
        const auto& strainer = scenario_.supply.strainer;
        if (!strainer)
            return stages;
        constexpr double bores = 4;
        const auto ahead = add_point("strainer_inlet", 0, pipe);
        strainer_storage_ = bores * pipe.bore * pipe.area() / pipe.modulus();
        parts_.strainer = builder_.strainer(*strainer, {ahead, stages});
        return ahead;
    }

    /// The pipe that ends at the far end.
    models::Pipe lay_downstream(double flow) {
        const auto& downstream = scenario_.downstream;
        auto laid = pipe_behind(downstream.pipe, flow);
        downstream_pipe_ = parts_.pipes.size();
        models::PointId from = outlet;
        std::string name = "downstream_pipe";
        for (std::size_t i = 0; i < downstream.pipes_after.size(); ++i) {
            const auto number = std::to_string(i + 1);
            const auto to = add_point("downstream_joint_" + number, 0, laid);
            parts_.pipes.push_back({name, laid, from, to});
            from = to;
            name = "downstream_pipe_" + std::to_string(i + 2);
            laid = pipe_behind(downstream.pipes_after[i], flow);
        }
        parts_.pipes.push_back({name, laid, from, far_end});
        return laid;
    }

    void lay_branch(const Branch& branch, double set) {
        const auto laid = pipe_behind(branch.pipe, branch.demand.start);
        const auto end = add_point(branch.name, branch.far_end_storage, laid);
        parts_.pipes.push_back({branch.name + "_pipe", laid, far_end, end});
        add_demand(branch.name, branch.demand, end);
        if (branch.air_pocket.volume > 0)
            parts_.air_pockets.push_back(
                builder_.air_pocket(branch.name + "_air_pocket", branch.air_pocket, set, end, laid.bore));
        add_vessels(branch.name + "_vessel", branch.vessels, far_end, end, laid.bore);
        for (const auto& relief : branch.reliefs)
            parts_.relief_valves.push_back(builder_.relief_valve(relief, end));
    }

    void add_demand(const std::string& name, const Demand& demand, models::PointId at) {
        const bool draws = demand.kind == Demand::Kind::draw;
        parts_.demands.push_back({name, at, draws});
        auto drawn = schedule(demand.start, demand.steps, [&](double flow) {
            return draws ? flow : models::Outlet::capacity_for(flow, demand.at_pressure);
        });
        if (demand.flutter.rms > 0)
            drawn = fluttering(drawn, demand.flutter, scenario_.run.duration, parts_.demands.size());
        drives_.emplace(parts_.demands.back().drive(), std::move(drawn));
    }

    void add_vessels(const std::string& name, const std::vector<Vessel>& vessels, models::PointId near_end,
                     models::PointId far, double bore) {
        for (std::size_t i = 0; i < vessels.size(); ++i)
            parts_.air_pockets.push_back(
                builder_.vessel(vessels.size() == 1 ? name : name + "_" + std::to_string(i + 1), vessels[i],
                                vessels[i].at == Vessel::At::near_end ? near_end : far, bore));
    }

    const PartBuilder& builder_;
    const models::Water& water_;
    const Scenario& scenario_;
    models::StationParts& parts_;
    NamedDrives& drives_;
    Fineness fineness_;
    std::optional<models::PointId> supply_near_end_;
    std::optional<models::BetweenPoints> first_step_;
    std::size_t supply_pipe_ = 0, downstream_pipe_ = 0;
    double strainer_storage_ = 0; ///< m3/Pa, of its body; 0: there is none
};

} // namespace

std::optional<models::BetweenPoints> lay_line(const PartBuilder& builder, const models::Water& water,
                                              const Scenario& scenario, const Fineness& fineness,
                                              models::StationParts& parts, NamedDrives& drives) {
    return LineLayer(builder, water, scenario, parts, drives, fineness).lay();
}

} // namespace needleturn::scenarios
