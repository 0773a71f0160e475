#include "scenarios/build.h"

#include "models/capacity.h"
#include "models/orifice.h"
#include "models/valve_sizing.h"
#include "models/water.h"
#include "models/wave_speed.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>
#include <vector>

namespace needleturn::scenarios {

namespace {

/// Parts filled with one water.
class Builder {
  public:
    explicit Builder(const models::Water& water)
        : water_{water},
          per_density_{std::sqrt(models::reference_density / water.density)},
          trace_{models::trace_gas_fraction * models::atmospheric_pressure, water.vapour_pressure_abs} {}

    const models::GasTrace& trace() const { return trace_; }

    /// A capacity stated for cold water, for this water.
    double capacity(double stated) const { return stated * per_density_; }

    models::Storage storage(double per_pascal, double modulus) const { return {per_pascal, modulus, trace_}; }

    models::Pipe pipe(const Pipe& from) const {
        models::Pipe pipe;
        pipe.length = from.length;
        pipe.bore = from.bore;
        pipe.density = water_.density;
        pipe.viscosity = water_.viscosity;
        pipe.roughness = from.roughness;
        pipe.friction_factor = from.friction_factor.value_or(0);
        pipe.rise = from.rise;
        const models::PipeWall wall{from.bore, from.wall.value_or(1), from.modulus, 0};
        pipe.wave_speed =
            models::wave_speed(water_.bulk_modulus, water_.density,
                               from.wall ? models::wall_term(water_.bulk_modulus, wall, 1.0) : 0.0);
        constexpr double cell = 10; // m
        constexpr double most = 32;
        pipe.cells = from.cells.value_or(
            static_cast<std::size_t>(std::clamp(std::ceil(from.length / cell), 1.0, most)));
        return pipe;
    }

    models::PilotStage stage(const Stage& from, const PilotOperatedHardware& hardware) const {
        models::PilotStage stage;
        stage.name = from.name;
        stage.valve = valve(hardware.main_valve);
        stage.cock =
            cock(from, hardware.main_valve.capacity, hardware.main_valve.seat_area, hardware.cover.modulus);
        stage.cover = {hardware.cover.volume, hardware.cover.modulus, hardware.main_valve.diaphragm_area,
                       air_index, trace_};
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
        stage.cock = cock(from, hardware.capacity, seat_area, hardware.chamber_modulus);
        return stage;
    }

    models::AirPocket air_pocket(const TrappedAir& air, double pressure_at_start, models::PointId at,
                                 double bore) const {
        constexpr double opening = 0.25; // of the pipe's area
        const double area = opening * std::numbers::pi / 4 * bore * bore;
        return {"air_pocket", at,
                models::free_air_of(air.volume, air.at.value_or(pressure_at_start), air_index), air_index,
                capacity(models::orifice_capacity(sharp_edge_discharge, area))};
    }

    static constexpr double sharp_edge_discharge = 0.62; ///< thin, ISO 5167-2

    /// Polytropic index of trapped air, between slow (1.0) and fast (1.4); Wylie and Streeter, from memory.
    static constexpr double air_index = 1.2;

  private:
    /// A full-bore cock: five times the capacity of the valve behind it, a loss coefficient of about 0.2 where a valve
    /// passes 12.5 Cv per square inch of its size (common practice, no source). Between cock and seat lies a body as
    /// long as four bores, of which `seat_area` (m2) is the section.
    std::optional<models::InletCock> cock(const Stage& from, double valve_capacity, double seat_area,
                                          double modulus) const {
        if (!from.cock)
            return std::nullopt;
        constexpr double wider = 5, bores = 4;
        const double bore = std::sqrt(seat_area * 4 / std::numbers::pi);
        return models::InletCock{{capacity(wider * valve_capacity)},
                                 storage(bores * bore * seat_area / modulus, modulus)};
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

Schedule adjusted(double start, const Scenario& scenario, std::size_t stage, Adjustment::What what) {
    Schedule result(start);
    for (const auto& adjustment : scenario.adjustments)
        if (adjustment.stage == stage && adjustment.what == what)
            result.then({adjustment.at, adjustment.to, adjustment.over});
    return result;
}

} // namespace

Installation build(const Scenario& scenario) {
    const double set = scenario.stages.front().set_pressure;
    const auto water = models::water_at(scenario.water.temperature, std::max(set, scenario.supply.pressure)
                                                                        + models::atmospheric_pressure);
    const Builder builder(water);

    Installation result;
    auto& parts = result.parts;
    parts.trace = builder.trace();
    const auto supply_pipe = builder.pipe(scenario.supply.pipe);
    const auto downstream_pipe = builder.pipe(scenario.downstream.pipe);
    const auto point = [&](const char* name, double stated, const models::Pipe& beside) {
        return models::Point{name,
                             builder.storage(stated, water.density * beside.wave_speed * beside.wave_speed)};
    };
    constexpr models::PointId inlet = 0, outlet = 1, far_end = 2;
    parts.points = {point("inlet", scenario.supply.storage, supply_pipe),
                    point("outlet", scenario.downstream.storage, downstream_pipe),
                    point("far_end", scenario.downstream.far_end_storage, downstream_pipe)};
    parts.inlet = inlet;
    parts.outlet = outlet;
    parts.pipes = {{"supply_pipe", supply_pipe, std::nullopt, inlet},
                   {"downstream_pipe", downstream_pipe, outlet, far_end}};
    for (const auto& stage : scenario.stages) {
        if (const auto* pilot_operated = stage.pilot_operated())
            parts.stages.push_back(builder.stage(stage, *pilot_operated));
        else
            parts.direct_stages.push_back(builder.stage(stage, *stage.direct_acting()));
    }
    parts.demands = {{"demand", far_end, scenario.demand.kind == Demand::Kind::draw}};
    if (scenario.downstream.air_pocket.volume > 0)
        parts.air_pockets = {
            builder.air_pocket(scenario.downstream.air_pocket, set, far_end, scenario.downstream.pipe.bore)};

    result.drives.push_back(
        schedule(scenario.supply.pressure, scenario.supply.steps, [](double pressure) { return pressure; }));
    result.drives.push_back(schedule(scenario.demand.start, scenario.demand.steps, [&](double flow) {
        return parts.demands.front().draws ? flow
                                           : models::Outlet::capacity_for(flow, scenario.demand.at_pressure);
    }));
    const auto drive_stage = [&](std::size_t i) {
        const auto& stage = scenario.stages[i];
        using What = Adjustment::What;
        result.drives.push_back(adjusted(stage.set_pressure, scenario, i, What::set_pressure));
        if (stage.pilot_operated()) {
            result.drives.push_back(adjusted(stage.opening_control, scenario, i, What::opening_control));
            result.drives.push_back(adjusted(stage.closing_control, scenario, i, What::closing_control));
        }
        if (stage.cock)
            result.drives.push_back(adjusted(*stage.cock, scenario, i, What::cock));
    };
    // The station's drives begin with those of the pilot-operated stages, as its states do.
    for (std::size_t i = 0; i < scenario.stages.size(); ++i)
        if (scenario.stages[i].pilot_operated())
            drive_stage(i);
    for (std::size_t i = 0; i < scenario.stages.size(); ++i)
        if (scenario.stages[i].direct_acting())
            drive_stage(i);
    return result;
}

} // namespace needleturn::scenarios
