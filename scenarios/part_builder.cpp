#include "scenarios/part_builder.h"

#include "models/laws/orifice.h"
#include "models/parts/strainer.h"
#include "scenarios/static_setting.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>
#include <vector>

namespace needleturn::scenarios {

double PartBuilder::wave_speed(const Pipe& pipe) const {
    if (pipe.wave_speed)
        return *pipe.wave_speed;
    const models::PipeWall wall{pipe.bore, pipe.wall.value_or(1), pipe.modulus, pipe.poisson_ratio};
    const auto held = restraint(pipe.held);
    const double factor = pipe.wall_formula == Pipe::WallFormula::thin
                              ? models::thin_wall_factor(wall, held)
                              : models::thick_wall_factor(wall, held);
    return models::wave_speed(water_.bulk_modulus, water_.density,
                              pipe.wall ? models::wall_term(water_.bulk_modulus, wall, factor) : 0.0);
}

models::Pipe PartBuilder::pipe(const Pipe& from, double flow, double pressure,
                               const Fineness& fineness) const {
    models::Pipe pipe;
    pipe.length = from.length;
    pipe.bore = from.bore;
    pipe.density = water_.density;
    pipe.viscosity = water_.viscosity;
    pipe.roughness = from.roughness;
    pipe.friction_factor = from.friction_factor.value_or(0);
    pipe.rise = from.rise;
    pipe.loss_coefficient =
        from.loss_coefficient.value_or(0) + elbow_loss * static_cast<double>(from.elbows.value_or(0));
    pipe.equivalent_length = from.equivalent_length.value_or(0);
    pipe.wave_speed = wave_speed(from);
    if (gassy_)
        pipe.gassy_speed =
            models::gassy_wave_speed(pipe.wave_speed, pipe.density, trace_.strength,
                                     pressure + models::atmospheric_pressure - trace_.vapour_pressure_abs);
    pipe.cells = from.cells.value_or(fineness.cells(pipe.length / pipe.speed()));
    if (from.friction == Pipe::Friction::unsteady)
        pipe.memory = models::friction_memory(from.friction_filters == 8U ? models::FrictionFit::eight
                                                                          : models::FrictionFit::six,
                                              flow / pipe.area() * pipe.bore * pipe.density / pipe.viscosity);
    return pipe;
}

models::Storage PartBuilder::with_pieces(models::Storage storage, const std::vector<Pipe>& pieces) const {
    double water = storage.per_pascal * storage.modulus; // m3
    for (const auto& piece : pieces) {
        const double volume = std::numbers::pi / 4 * piece.bore * piece.bore * piece.length;
        const double speed = wave_speed(piece);
        water += volume;
        storage.per_pascal += volume / (water_.density * speed * speed);
        storage.modulus = water / storage.per_pascal;
    }
    return storage;
}

models::PilotStage PartBuilder::stage(const Stage& from, const PilotOperatedHardware& hardware,
                                      double inlet) const {
    models::PilotStage stage;
    stage.name = from.name;
    stage.valve = valve(hardware.main_valve);
    if (const auto& compliance = hardware.main_valve.diaphragm_compliance)
        stage.diaphragm = {stage.valve.diaphragm_area, *compliance, stage.valve.area_slope};
    stage.cocks = cocks(from, hardware.main_valve.seat_area, hardware.cover.modulus);
    stage.cover = {hardware.cover.volume,
                   hardware.cover.modulus,
                   hardware.main_valve.diaphragm_area,
                   index(from.air_in_cover.gas),
                   trace_,
                   heat(from.air_in_cover.gas),
                   stage.valve.area_slope};
    if (from.bleed)
        stage.bleed = bleed();
    stage.restriction_capacity = capacity(hardware.fixed_restriction_capacity);
    stage.tee = storage(hardware.tee_volume / hardware.cover.modulus, hardware.cover.modulus);
    const auto& control = hardware.speed_control;
    stage.opening_control = {capacity(control.capacity), control.full_turns, control.exponent,
                             capacity(control.check_capacity)};
    stage.closing_control = stage.opening_control;
    if (const auto& line = hardware.cover_line)
        stage.cover_line = models::CoverLine::of(line->length, line->bore, water_.density, water_.viscosity);
    const auto& pilot = hardware.pilot;
    stage.pilot = {.capacity = capacity(pilot.capacity),
                   .full_lift = pilot.full_lift,
                   .diaphragm_area = pilot.diaphragm_area,
                   .spring_rate = pilot.spring_rate,
                   .moving_mass = pilot.moving_mass,
                   .stem_damping = pilot.stem_damping,
                   .friction = friction(pilot.stem_friction.value_or(0), pilot.breakaway, pilot.moving_mass),
                   .unbalanced_seat = unbalanced_seat(pilot.seat_bore, from, inlet),
                   .seat = models::pilot_stop,
                   .stop = models::pilot_stop};
    if (from.sustaining_pressure)
        stage.sustaining = models::SustainingPilot::built_as(stage.pilot);
    if (const auto& night = from.night_setting)
        stage.night = {night->lower_by, night->below, night->above, night->lag};
    const auto& line = hardware.sensing_line;
    stage.sensing_line = models::SensingLine::of(line.length, line.bore, capacity(line.capacity),
                                                 water_.density, water_.viscosity);
    stage.sensing_chamber = storage(line.chamber_volume / hardware.cover.modulus, hardware.cover.modulus);
    return stage;
}

models::DirectStage PartBuilder::stage(const Stage& from, const DirectActingHardware& hardware,
                                       double inlet) const {
    models::DirectStage stage;
    stage.name = from.name;
    stage.valve = {
        .diaphragm_area = hardware.diaphragm_area,
        .full_lift = hardware.full_lift,
        .moving_mass = hardware.moving_mass,
        .spring_rate = hardware.spring_rate,
        .stem_damping = hardware.stem_damping,
        .friction = friction(hardware.stem_friction, hardware.breakaway, hardware.moving_mass),
        .unbalanced_seat = unbalanced_seat(hardware.seat_bore, from, inlet),
        .port_capacity = capacity(hardware.port_capacity),
        .trim = trim(hardware.capacity, hardware.full_lift, hardware.liquid_recovery_factor, hardware.trim),
        .seat = models::pilot_stop,
        .stop = models::pilot_stop};
    if (const auto& line = hardware.sensing_line)
        stage.sensing_line = models::SensingLine::of(line->length, line->bore, stage.valve.port_capacity,
                                                     water_.density, water_.viscosity);
    stage.chamber = storage(hardware.chamber_volume / hardware.chamber_modulus, hardware.chamber_modulus);
    // Where its seat is not stated: a sharp-edged orifice of its capacity.
    const double seat_area = stage.valve.unbalanced_seat
                                 ? stage.valve.unbalanced_seat->area
                                 : hardware.capacity / models::orifice_capacity(sharp_edge_discharge, 1);
    stage.cocks = cocks(from, seat_area, hardware.chamber_modulus);
    return stage;
}

models::AirPocket PartBuilder::air_pocket(std::string name, const TrappedAir& air, double pressure_at_start,
                                          models::PointId at, double bore) const {
    return {std::move(name),
            at,
            free_air(air.volume, air.at.value_or(pressure_at_start), air.gas),
            index(air.gas),
            branch_opening(bore),
            std::nullopt,
            heat(air.gas)};
}

models::AirPocket PartBuilder::vessel(std::string name, const Vessel& from, models::PointId at,
                                      double bore) const {
    return {std::move(name),
            at,
            free_air(from.volume, from.precharge, from.gas),
            index(from.gas),
            branch_opening(bore),
            from.volume,
            heat(from.gas)};
}

double PartBuilder::index(const GasLaw& gas) {
    return gas.thermal_time ? models::air_heat_ratio : gas.polytropic_index.value_or(air_index);
}

double PartBuilder::free_air(double volume, double pressure, const GasLaw& gas) {
    return models::free_air_of(volume, pressure, gas.thermal_time ? 1.0 : index(gas));
}

std::optional<models::GasHeat> PartBuilder::heat(const GasLaw& gas) const {
    if (!gas.thermal_time)
        return {};
    return models::GasHeat{*gas.thermal_time, water_temperature_};
}

models::SourceCheck PartBuilder::source_check(models::PointId at, const models::Pipe& pipe) const {
    constexpr double loss = 2.5;
    return {at, pipe.area() * std::sqrt(2 / (loss * water_.density))};
}

models::Strainer PartBuilder::strainer(const Strainer& from, models::BetweenPoints between) const {
    // What the clean strainer loses beyond its screen its body loses: (66).
    const double whole = 1 / (from.capacity * from.capacity),
                 screen = 1 / (from.clean_screen_capacity() * from.clean_screen_capacity());
    models::Strainer strainer;
    strainer.between = between;
    strainer.body_capacity = capacity(1 / std::sqrt(whole - screen));
    strainer.screen_capacity = capacity(from.screen_area * std::sqrt(2 / models::reference_density));
    strainer.mesh_open = from.mesh_open;
    return strainer;
}

models::ReliefValve PartBuilder::relief_valve(const ReliefValve& from, models::PointId at) const {
    constexpr double mass_per_area = 0.15 / (20e-3 * 20e-3); // kg/m2 of bore squared
    constexpr double of_calm = 0.1;
    const auto snap = models::ReliefSnap::of(from.overpressure, from.blow_down);
    models::ReliefValve relief;
    relief.name = from.name;
    relief.at = at;
    relief.set_pressure = from.set_pressure;
    relief.seat_area = from.seat_area();
    relief.full_lift = from.lift();
    relief.spring_rate = snap.stiffness * relief.seat_area * from.set_pressure / relief.full_lift;
    relief.growth = snap.growth;
    relief.moving_mass = from.moving_mass.value_or(mass_per_area * from.seat_bore * from.seat_bore);
    relief.damping =
        from.damping.value_or(of_calm
                              * models::ReliefValve::calm_damping(relief.moving_mass, from.full_flow(),
                                                                  relief.full_lift, relief.seat_area));
    relief.capacity = 1; // which passes so much; the stated flow takes more
    relief.capacity = capacity(from.full_flow() / relief.flow(relief.full_lift, from.full_pressure()));
    relief.seat = models::pilot_stop;
    relief.stop = models::main_stop; // metal: what gives there would add to the flow
    return relief;
}

double PartBuilder::branch_opening(double bore) const {
    constexpr double opening = 0.25;
    const double area = opening * std::numbers::pi / 4 * bore * bore;
    return capacity(models::orifice_capacity(sharp_edge_discharge, area));
}

std::optional<models::UnbalancedSeat> PartBuilder::unbalanced_seat(std::optional<double> bore,
                                                                   const Stage& stage, double inlet) {
    if (!bore)
        return {};
    return models::UnbalancedSeat{bore_area(*bore), set_at(inlet, stage.set_pressure)};
}

models::Restraint PartBuilder::restraint(Pipe::Held held) {
    switch (held) {
    case Pipe::Held::at_one_end:
        return models::Restraint::anchored_upstream;
    case Pipe::Held::at_one_end_hoop:
        return models::Restraint::anchored_upstream_hoop;
    case Pipe::Held::throughout:
        return models::Restraint::anchored_throughout;
    case Pipe::Held::free:
        break;
    }
    return models::Restraint::expansion_joints;
}

models::StageCocks PartBuilder::cocks(const Stage& from, double seat_area, double modulus) const {
    constexpr double bores = 4;
    const double bore = std::sqrt(seat_area * 4 / std::numbers::pi);
    const models::BodyCock cock{{capacity(cock_capacity_of(from.hardware))},
                                storage(bores * bore * seat_area / modulus, modulus)};
    models::StageCocks cocks;
    if (from.cock)
        cocks.inlet = cock;
    if (from.outlet_cock)
        cocks.outlet = cock;
    if (from.check_valve)
        cocks.check = models::CheckValve{capacity(*from.check_valve), cock.space};
    return cocks;
}

models::Bleed PartBuilder::bleed() const {
    constexpr double bore = 2e-3; // m
    constexpr double area = std::numbers::pi / 4 * bore * bore;
    return {.area = area,
            .discharge = sharp_edge_discharge,
            .full_turns = bleed_turns,
            .capacity = capacity(models::orifice_capacity(sharp_edge_discharge, area)),
            .temperature = water_temperature_};
}

models::Trim PartBuilder::trim(double full_capacity, double full_lift, double recovery,
                               const Trim& from) const {
    const double vapour = water_.vapour_pressure_abs;
    return {capacity(full_capacity), full_lift, recovery,
            vapour * models::critical_pressure_ratio_factor(vapour, water_.critical_pressure_abs),
            characteristic(from)};
}

std::optional<models::StemFriction> PartBuilder::friction(double coulomb, const BreakawayHardware& breakaway,
                                                          double mass) {
    if (!(coulomb > 0))
        return {};
    constexpr double usual_travel = 20e-6; // m: scenarios/hardware.h
    return models::StemFriction::of(coulomb, std::max(coulomb, breakaway.force.value_or(0)),
                                    breakaway.travel.value_or(usual_travel), mass);
}

models::MainValve PartBuilder::valve(const MainValveHardware& from) const {
    models::MainValve valve;
    valve.seat_area = from.seat_area;
    valve.diaphragm_area = from.diaphragm_area;
    valve.area_slope = from.diaphragm_area * from.area_change.value_or(0) / from.full_lift;
    valve.full_lift = from.full_lift;
    valve.moving_mass = from.moving_mass;
    valve.spring_preload = from.spring_preload;
    valve.spring_rate = from.spring_rate;
    valve.stem_damping = from.stem_damping;
    valve.friction = friction(from.stem_friction, from.breakaway, from.moving_mass);
    if (from.jet_angle)
        valve.jet = std::sqrt(2 * water_.density) * std::cos(*from.jet_angle);
    valve.trim = trim(from.capacity, from.full_lift, from.liquid_recovery_factor, from.trim);
    valve.seat = valve.stop = models::main_stop;
    return valve;
}

models::Characteristic PartBuilder::characteristic(const Trim& trim) {
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

double Strainer::clean_screen_capacity() const {
    return screen_area
           * std::sqrt(2 / (models::reference_density * models::Strainer::loss_coefficient(mesh_open)));
}

} // namespace needleturn::scenarios
