#include "scenarios/build.h"

#include "models/laws/capacity.h"
#include "models/laws/orifice.h"
#include "models/laws/water.h"
#include "models/laws/wave_speed.h"
#include "scenarios/controls.h"
#include "scenarios/demands.h"
#include "scenarios/flutter.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::scenarios {

namespace {

/// How finely the pipes of a scenario are divided that name no cells.
struct Fineness {
    double fastest = 0; ///< s, the shortest change of the scenario
    std::size_t refinement = 1;

    std::size_t cells(double transit) const {
        const auto cells = cells_for(transit, fastest);
        return cells < models::Pipe::fewest_upwind ? cells : refinement * cells;
    }

    PipeGrid grid(const models::PipeRun& run) const {
        const double transit = run.pipe.length / run.pipe.wave_speed;
        const bool as_stated = run.pipe.cells != cells(transit);
        return {.pipe = run.name,
                .cells = run.pipe.cells,
                .transit = transit,
                .wanted = wanted_cells(transit, fastest),
                .as_stated = as_stated,
                .resolved = run.pipe.upwind(),
                .refinement = as_stated || !run.pipe.upwind() ? 1 : refinement};
    }
};

/// Parts filled with one water.
class Builder {
  public:
    Builder(const models::Water& water, double temperature)
        : water_{water},
          water_temperature_{temperature},
          per_density_{std::sqrt(models::reference_density / water.density)},
          trace_{models::trace_gas_fraction * models::atmospheric_pressure, water.vapour_pressure_abs} {}

    const models::GasTrace& trace() const { return trace_; }

    /// A capacity stated for cold water, for this water.
    double capacity(double stated) const { return stated * per_density_; }

    models::Storage storage(double per_pascal, double modulus) const { return {per_pascal, modulus, trace_}; }

    /// `flow` (m3/s) runs in it at the start.
    models::Pipe pipe(const Pipe& from, double flow, const Fineness& fineness) const {
        models::Pipe pipe;
        pipe.length = from.length;
        pipe.bore = from.bore;
        pipe.density = water_.density;
        pipe.viscosity = water_.viscosity;
        pipe.roughness = from.roughness;
        pipe.friction_factor = from.friction_factor.value_or(0);
        pipe.rise = from.rise;
        const models::PipeWall wall{from.bore, from.wall.value_or(1), from.modulus, from.poisson_ratio};
        const double factor = models::thick_wall_factor(wall, restraint(from.held));
        pipe.wave_speed =
            models::wave_speed(water_.bulk_modulus, water_.density,
                               from.wall ? models::wall_term(water_.bulk_modulus, wall, factor) : 0.0);
        pipe.cells = from.cells.value_or(fineness.cells(pipe.length / pipe.wave_speed));
        if (from.friction == Pipe::Friction::unsteady)
            pipe.memory = models::friction_memory(
                models::FrictionFit::six, flow / pipe.area() * pipe.bore * pipe.density / pipe.viscosity);
        return pipe;
    }

    models::PilotStage stage(const Stage& from, const PilotOperatedHardware& hardware) const {
        models::PilotStage stage;
        stage.name = from.name;
        stage.valve = valve(hardware.main_valve);
        stage.cock = cock(from, hardware.main_valve.seat_area, hardware.cover.modulus);
        stage.cover = {hardware.cover.volume, hardware.cover.modulus, hardware.main_valve.diaphragm_area,
                       air_index, trace_};
        if (from.bleed)
            stage.bleed = bleed();
        stage.restriction_capacity = capacity(hardware.fixed_restriction_capacity);
        stage.tee = storage(hardware.tee_volume / hardware.cover.modulus, hardware.cover.modulus);
        const auto& control = hardware.speed_control;
        stage.opening_control = {capacity(control.capacity), control.full_turns, control.exponent,
                                 capacity(control.check_capacity)};
        stage.closing_control = stage.opening_control;
        const auto& pilot = hardware.pilot;
        stage.pilot = {.capacity = capacity(pilot.capacity),
                       .full_lift = pilot.full_lift,
                       .diaphragm_area = pilot.diaphragm_area,
                       .spring_rate = pilot.spring_rate,
                       .moving_mass = pilot.moving_mass,
                       .stem_damping = pilot.stem_damping,
                       .seat = models::pilot_stop,
                       .stop = models::pilot_stop};
        const auto& line = hardware.sensing_line;
        stage.sensing_line = models::SensingLine::of(line.length, line.bore, capacity(line.capacity),
                                                     water_.density, water_.viscosity);
        stage.sensing_chamber = storage(line.chamber_volume / hardware.cover.modulus, hardware.cover.modulus);
        return stage;
    }

    models::DirectStage stage(const Stage& from, const DirectActingHardware& hardware) const {
        models::DirectStage stage;
        stage.name = from.name;
        stage.valve = {.diaphragm_area = hardware.diaphragm_area,
                       .full_lift = hardware.full_lift,
                       .moving_mass = hardware.moving_mass,
                       .spring_rate = hardware.spring_rate,
                       .stem_damping = hardware.stem_damping,
                       .stem_friction = hardware.stem_friction,
                       .port_capacity = capacity(hardware.port_capacity),
                       .trim = trim(hardware.capacity, hardware.full_lift, hardware.liquid_recovery_factor,
                                    hardware.trim),
                       .seat = models::pilot_stop,
                       .stop = models::pilot_stop};
        stage.chamber = storage(hardware.chamber_volume / hardware.chamber_modulus, hardware.chamber_modulus);
        // Its seat is not stated: a sharp-edged orifice of its capacity.
        const double seat_area = hardware.capacity / models::orifice_capacity(sharp_edge_discharge, 1);
        stage.cock = cock(from, seat_area, hardware.chamber_modulus);
        return stage;
    }

    models::AirPocket air_pocket(std::string name, const TrappedAir& air, double pressure_at_start,
                                 models::PointId at, double bore) const {
        return {std::move(name), at,
                models::free_air_of(air.volume, air.at.value_or(pressure_at_start), air_index), air_index,
                branch_opening(bore)};
    }

    models::AirPocket vessel(std::string name, const Vessel& from, models::PointId at, double bore) const {
        return {std::move(name),
                at,
                models::free_air_of(from.volume, from.precharge, air_index),
                air_index,
                branch_opening(bore),
                from.volume};
    }

    /// A swing check as wide as the pipe: two and a half velocity heads (common practice, no source).
    models::SourceCheck source_check(models::PointId at, const models::Pipe& pipe) const {
        constexpr double loss = 2.5;
        return {at, pipe.area() * std::sqrt(2 / (loss * water_.density))};
    }

    /// Opening to what stands beside a pipe: a quarter of its area, sharp-edged.
    double branch_opening(double bore) const {
        constexpr double opening = 0.25;
        const double area = opening * std::numbers::pi / 4 * bore * bore;
        return capacity(models::orifice_capacity(sharp_edge_discharge, area));
    }

    static models::Restraint restraint(Pipe::Held held) {
        switch (held) {
        case Pipe::Held::at_one_end:
            return models::Restraint::anchored_upstream;
        case Pipe::Held::throughout:
            return models::Restraint::anchored_throughout;
        case Pipe::Held::free:
            break;
        }
        return models::Restraint::expansion_joints;
    }

    static constexpr double sharp_edge_discharge = 0.62; ///< thin, ISO 5167-2

    /// Polytropic index of trapped air, between slow (1.0) and fast (1.4); Wylie and Streeter, from memory.
    static constexpr double air_index = 1.2;

  private:
    /// Between cock and seat lies a body as long as four bores, of which `seat_area` (m2) is the section.
    std::optional<models::InletCock> cock(const Stage& from, double seat_area, double modulus) const {
        if (!from.cock)
            return std::nullopt;
        constexpr double bores = 4;
        const double bore = std::sqrt(seat_area * 4 / std::numbers::pi);
        return models::InletCock{{capacity(cock_over_valve * capacity_of(from.hardware))},
                                 storage(bores * bore * seat_area / modulus, modulus)};
    }

    /// A fitting with a hole of 2 mm, fully open after a turn (generic).
    models::Bleed bleed() const {
        constexpr double bore = 2e-3; // m
        constexpr double area = std::numbers::pi / 4 * bore * bore;
        return {.area = area,
                .discharge = sharp_edge_discharge,
                .full_turns = bleed_turns,
                .capacity = capacity(models::orifice_capacity(sharp_edge_discharge, area)),
                .temperature = water_temperature_};
    }

    models::Trim trim(double full_capacity, double full_lift, double recovery, const Trim& from) const {
        const double vapour = water_.vapour_pressure_abs;
        return {capacity(full_capacity), full_lift, recovery,
                vapour * models::critical_pressure_ratio_factor(vapour, models::critical_pressure_abs),
                characteristic(from)};
    }

    models::MainValve valve(const MainValveHardware& from) const {
        models::MainValve valve;
        valve.seat_area = from.seat_area;
        valve.diaphragm_area = from.diaphragm_area;
        valve.full_lift = from.full_lift;
        valve.moving_mass = from.moving_mass;
        valve.spring_preload = from.spring_preload;
        valve.spring_rate = from.spring_rate;
        valve.stem_damping = from.stem_damping;
        valve.stem_friction = from.stem_friction;
        valve.trim = trim(from.capacity, from.full_lift, from.liquid_recovery_factor, from.trim);
        valve.seat = valve.stop = models::main_stop;
        return valve;
    }

    static models::Characteristic characteristic(const Trim& trim) {
        switch (trim.shape) {
        case Trim::Shape::v_port:
            return models::PowerLaw(trim.exponent);
        case Trim::Shape::contoured:
            return models::Contoured(trim.rangeability);
        case Trim::Shape::table: {
            std::vector<std::pair<double, double>> points;
            for (std::size_t i = 0; i < trim.lift.size(); ++i)
                points.emplace_back(trim.lift[i], trim.capacity[i]);
            return models::Table(points);
        }
        case Trim::Shape::flat_disc:
            break;
        }
        return models::QuickOpening(trim.exponent);
    }

    models::Water water_;
    double water_temperature_; ///< K
    double per_density_;
    models::GasTrace trace_;
};

/// `start` and the steps, each value turned by `convert`.
template <class Convert> Schedule schedule(double start, const std::vector<Step>& steps, Convert convert) {
    Schedule result(convert(start));
    for (const auto& step : steps)
        result.then({step.at, convert(step.to), step.over});
    return result;
}

using NamedDrives = std::map<std::string, Schedule>;

/// One schedule for each drive of the station, by its name. Throws std::logic_error where table of controls and parts differ.
std::vector<Schedule> in_order(NamedDrives named, const models::Station& station) {
    std::vector<Schedule> drives;
    for (const auto& drive : station.drives()) {
        auto found = named.extract(drive.name);
        if (found.empty())
            throw std::logic_error("nothing drives " + drive.name);
        drives.push_back(std::move(found.mapped()));
    }
    if (!named.empty())
        throw std::logic_error("the station has no drive of the name " + named.begin()->first);
    return drives;
}

/// The shortest time that any change of pressure or flow takes, s; infinity if nothing changes.
double fastest_change(const Scenario& scenario) {
    double fastest = std::numeric_limits<double>::infinity();
    const auto look = [&](const std::vector<Step>& steps) {
        for (const auto& step : steps)
            fastest = std::min(fastest, step.over);
    };
    look(scenario.supply.steps);
    visit_demands(scenario, [&](const std::string&, const Demand& demand) { look(demand.steps); });
    return fastest;
}

/// Lays the line, pipe by pipe from the source on.
class LineLayer {
  public:
    LineLayer(const Builder& builder, const models::Water& water, const Scenario& scenario,
              models::StationParts& parts, NamedDrives& drives, const Fineness& fineness)
        : builder_{builder},
          water_{water},
          scenario_{scenario},
          parts_{parts},
          drives_{drives},
          fineness_{fineness} {}

    void lay() {
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
        const auto header = lay_downstream(flow);
        parts_.points[inlet].storage = storage(supply.storage, parts_.pipes[supply_pipe_].pipe);
        parts_.points[outlet].storage = storage(downstream.storage, parts_.pipes[downstream_pipe_].pipe);
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
        for (const auto& branch : downstream.branches)
            lay_branch(branch, set);
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

    models::Pipe pipe(const Pipe& from, double flow) const { return builder_.pipe(from, flow, fineness_); }

    void lay_supply(double flow) {
        const auto& supply = scenario_.supply;
        std::optional<models::PointId> from;
        const auto begin = [&](const models::Pipe& first) {
            if (supply.backflow == Supply::Backflow::stopped) {
                from = add_point("pump", 0, first);
                parts_.source_check = builder_.source_check(*from, first);
            }
        };
        for (std::size_t i = 0; i < supply.pipes_before.size(); ++i) {
            const auto laid = pipe(supply.pipes_before[i], flow);
            if (i == 0)
                begin(laid);
            const auto number = std::to_string(i + 1);
            const auto to = add_point("supply_joint_" + number, 0, laid);
            parts_.pipes.push_back({"supply_pipe_" + number, laid, from, to});
            from = to;
        }
        const auto last = pipe(supply.pipe, flow);
        if (supply.pipes_before.empty())
            begin(last);
        supply_near_end_ = from;
        supply_pipe_ = parts_.pipes.size();
        parts_.pipes.push_back({"supply_pipe", last, from, inlet});
    }

    /// The pipe that ends at the far end.
    models::Pipe lay_downstream(double flow) {
        const auto& downstream = scenario_.downstream;
        auto laid = pipe(downstream.pipe, flow);
        downstream_pipe_ = parts_.pipes.size();
        models::PointId from = outlet;
        std::string name = "downstream_pipe";
        for (std::size_t i = 0; i < downstream.pipes_after.size(); ++i) {
            const auto number = std::to_string(i + 1);
            const auto to = add_point("downstream_joint_" + number, 0, laid);
            parts_.pipes.push_back({name, laid, from, to});
            from = to;
            name = "downstream_pipe_" + std::to_string(i + 2);
            laid = pipe(downstream.pipes_after[i], flow);
        }
        parts_.pipes.push_back({name, laid, from, far_end});
        return laid;
    }

    void lay_branch(const Branch& branch, double set) {
        const auto laid = pipe(branch.pipe, branch.demand.start);
        const auto end = add_point(branch.name, branch.far_end_storage, laid);
        parts_.pipes.push_back({branch.name + "_pipe", laid, far_end, end});
        add_demand(branch.name, branch.demand, end);
        if (branch.air_pocket.volume > 0)
            parts_.air_pockets.push_back(
                builder_.air_pocket(branch.name + "_air_pocket", branch.air_pocket, set, end, laid.bore));
        add_vessels(branch.name + "_vessel", branch.vessels, far_end, end, laid.bore);
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

    const Builder& builder_;
    const models::Water& water_;
    const Scenario& scenario_;
    models::StationParts& parts_;
    NamedDrives& drives_;
    Fineness fineness_;
    std::optional<models::PointId> supply_near_end_;
    std::size_t supply_pipe_ = 0, downstream_pipe_ = 0;
};

} // namespace

Installation build(const Scenario& scenario, std::size_t refinement) {
    const double set = scenario.stages.front().set_pressure;
    const auto water = models::water_at(scenario.water.temperature, std::max(set, scenario.supply.pressure)
                                                                        + models::atmospheric_pressure);
    const Builder builder(water, scenario.water.temperature);

    Installation result;
    auto& parts = result.parts;
    parts.trace = builder.trace();
    result.fastest_change = fastest_change(scenario);
    const Fineness fineness{result.fastest_change, refinement};
    NamedDrives drives;
    LineLayer(builder, water, scenario, parts, drives, fineness).lay();
    for (const auto& run : parts.pipes)
        result.grids.push_back(fineness.grid(run));
    std::vector<std::size_t> covers; // among the pilot-operated stages
    for (const auto& stage : scenario.stages) {
        covers.push_back(parts.stages.size());
        if (const auto* pilot_operated = stage.pilot_operated()) {
            parts.stages.push_back(builder.stage(stage, *pilot_operated));
            result.air.push_back(stage.air_in_cover);
        } else {
            parts.direct_stages.push_back(builder.stage(stage, *stage.direct_acting()));
        }
    }
    for (const auto& control : controls_of(scenario)) {
        if (!control.entry().of_stage())
            continue;
        const auto changes = changes_of(scenario, control);
        if (control.entry().at_once())
            for (const auto& change : changes)
                result.air_changes.push_back({change.at, covers[control.index], change.to});
        else
            drives.emplace(control.name, schedule(start_of(scenario, control), changes,
                                                  [](double value) { return value; }));
    }
    std::ranges::stable_sort(result.air_changes, {}, &AirChange::at);
    result.drives = in_order(std::move(drives), models::Station(parts));
    return result;
}

} // namespace needleturn::scenarios
