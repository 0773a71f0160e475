/// The reference stage: an invented, generic DN100 valve whose behaviour a trial of this model recorded.
/// Tests of phenomena, cross-checks and benchmarks share it.
#pragma once

#include "sim/equilibrium.h"
#include "tools/studies/station_system.h"

#include <Eigen/Core>

#include <cmath>
#include <limits>
#include <vector>

namespace needleturn::reference {

/// C in m3 s-1 Pa-1/2 of a US flow coefficient.
inline double cv(double value) {
    constexpr double gallon = 3.785411784e-3,
                     psi = 6894.757293168361; // m3, Pa: NIST SP 811 (2008), appendix B
    return value * (gallon / 60 / std::sqrt(psi));
}

/// Litres a second in m3/s.
inline constexpr double litre = 1e-3;
inline constexpr double bar = 1e5;

/// The trial's set pressure was the flowing one, 4.14 bar; the pilot of this stage falls off by 0.79 bar from
/// its static setting, so 4.93 bar static flows at 4.14.
inline constexpr double static_setting = 4.93 * bar;
inline constexpr double flowing_setting = 4.14 * bar;

inline models::StationParts parts() {
    using namespace models;
    constexpr double density = 1000, viscosity = 1e-3;
    const GasTrace trace{trace_gas_fraction * atmospheric_pressure, 1700};
    const auto storage = [&](double per_pascal, double modulus) {
        return Storage{per_pascal, modulus, trace};
    };
    constexpr double modulus = 1e9; // effective, of cover, tee and chamber

    StationParts station;
    station.trace = trace;
    // Rigid columns; what yields is stated at the three points.
    Pipe pipe{30, 0.1, std::numeric_limits<double>::infinity(), density, viscosity, 0, 0.02, 0, 1};
    station.points = {
        {"inlet", storage(2e-10, 2e9)}, {"outlet", storage(1e-9, 2e9)}, {"far_end", storage(1e-9, 2e9)}};
    station.pipes.push_back({"supply_pipe", pipe, std::nullopt, 0});
    pipe.length = 40;
    station.pipes.push_back({"downstream_pipe", pipe, 1, 2});
    station.demands = {{"demand", 2, false}};

    PilotStage stage;
    stage.valve = {.seat_area = 7.85e-3,
                   .diaphragm_area = 1.65e-2,
                   .full_lift = 28e-3,
                   .moving_mass = 6,
                   .spring_preload = 150,
                   .spring_rate = 4e3,
                   .stem_damping = 1000,
                   .trim = {cv(200), 28e-3, 0.9, 0.957 * 1700, QuickOpening(1.8)},
                   .seat = main_stop,
                   .stop = main_stop};
    stage.cover = {1e-3, modulus, stage.valve.diaphragm_area, 1.2, trace};
    stage.restriction_capacity = cv(0.165);
    stage.tee = storage(30e-6 / modulus, modulus);
    stage.opening_control = stage.closing_control = {cv(0.7), 6, 1.3, cv(1.0)};
    stage.pilot = {.capacity = cv(0.5),
                   .full_lift = 2.5e-3,
                   .diaphragm_area = 2e-3,
                   .spring_rate = 170e3,
                   .moving_mass = 0.15,
                   .stem_damping = 60,
                   .seat = pilot_stop,
                   .stop = pilot_stop};
    stage.sensing_line = SensingLine::of(0.4, 8e-3, cv(0.25), density, viscosity);
    stage.sensing_chamber = storage(30e-6 / modulus, modulus);
    station.stages = {stage};
    return station;
}

/// The same with a line of 0.3 m by 6 mm between tee and cover.
inline models::StationParts with_cover_line() {
    auto made_of = parts();
    made_of.stages[0].cover_line = models::CoverLine::of(0.3, 6e-3, 1000, 1e-3);
    return made_of;
}

/// The same with a relief valve of 20 mm at the far end, set a little above the static setting: it opens in a surge.
inline models::StationParts with_relief_valve(double set_pressure = 5.2 * bar) {
    auto made_of = parts();
    const auto snap = models::ReliefSnap::of(0.1, 0.1);
    constexpr double area = 3.14e-4, lift = 5e-3;
    made_of.relief_valves = {{.name = "relief",
                              .at = 2,
                              .set_pressure = set_pressure,
                              .seat_area = area,
                              .full_lift = lift,
                              .spring_rate = snap.stiffness * area * set_pressure / lift,
                              .growth = snap.growth,
                              .moving_mass = 0.3,
                              .damping = 30,
                              .capacity = cv(10),
                              .seat = models::pilot_stop,
                              .stop = models::pilot_stop}};
    return made_of;
}

/// The same with a strainer of DN100 ahead of it: 0.05 bar at 20 L/s when it is clean.
inline models::StationParts with_strainer() {
    auto made_of = parts();
    made_of.points.push_back({"strainer_inlet", {1e-10, 2e9, made_of.trace}});
    made_of.pipes[0].to = 3;
    made_of.strainer = models::Strainer{"strainer", {3, 0}, 2.9e-4, 1.1e-3, 0.4};
    return made_of;
}

/// The same with a check valve behind the stage, of a velocity head or two, and with or without an outlet cock behind it.
inline models::StationParts with_check_valve(bool cock) {
    auto made_of = parts();
    const models::Storage space{2e-12, 1e9, made_of.trace};
    made_of.stages[0].cocks.check = models::CheckValve{2.5e-4, space};
    if (cock)
        made_of.stages[0].cocks.outlet = models::BodyCock{{8e-4}, space};
    return made_of;
}

/// The same with a sustaining pilot, built as the reducing one. Its drive follows that of the set pressure.
inline models::StationParts with_sustaining_pilot() {
    auto made_of = parts();
    auto& stage = made_of.stages[0];
    stage.sustaining = models::SustainingPilot::built_as(stage.pilot);
    return made_of;
}

/// The same with a night setting over flows that the reference station passes.
inline models::StationParts with_night_setting() {
    auto made_of = parts();
    made_of.stages[0].night = models::NightSetting{.lower_by = 0.6e5, .below = 2e-3, .above = 6e-3, .lag = 2};
    return made_of;
}

/// Capacity of open outlets that pass `flow` (m3/s) at the flowing setting.
inline double demand_for(double flow) { return models::Outlet::capacity_for(flow, flowing_setting); }

/// Drives of the station: supply 7.5 bar, the demand (capacity, from demand_for), settings in turns.
inline std::vector<Schedule> drives(Schedule demand, Schedule opening = Schedule(3),
                                    Schedule closing = Schedule(6)) {
    return {Schedule(7.5 * bar), std::move(demand), Schedule(static_setting), std::move(opening),
            std::move(closing)};
}

/// Free air of `volume` (m3) as it sits in the cover at 6.6 bar absolute.
inline double free_air(double volume) {
    return models::free_air_of(volume, 6.6 * bar - models::atmospheric_pressure, 1.2);
}

/// Steady state at the drives' starting values, [states], as stored.
inline Eigen::VectorXd steady_start(const models::Station& station,
                                    const sim::System<models::Station>& system, double air_volume) {
    std::vector<double> now;
    for (const auto& schedule : system.schedules())
        now.push_back(schedule.start());
    const std::vector<double> air(station.parts().stages.size(), free_air(air_volume));
    const auto guess = station.start(now, air);
    return sim::find_equilibrium(system, 0,
                                 Eigen::Map<const Eigen::VectorXd>(guess.data(), Eigen::Index(guess.size())));
}

} // namespace needleturn::reference
