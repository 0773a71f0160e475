/// A station with every kind of part and every option, in which no number is what it is by default.
#pragma once

#include "models/station.h"
#include "tests/reference_stage.h"

#include <limits>

namespace needleturn::tests {

inline models::StationParts every_part() {
    using namespace models;
    auto parts = reference::parts();
    const auto& trace = parts.trace;
    const Storage small{2e-14, 1.1e9, trace};
    auto& pipe = parts.pipes[1].pipe;
    pipe.wave_speed = 900;
    pipe.cells = 6;
    pipe.roughness = 3e-5;
    pipe.rise = 1.5;
    pipe.memory = friction_memory(FrictionFit::six, 3000);
    pipe.loss_coefficient = 2.5;
    pipe.equivalent_length = 3;
    pipe.gassy_speed = 880;
    parts.points.push_back({"pump", {1e-9, 2e9, trace}});
    parts.source_check = SourceCheck{3, 1e-4};
    parts.points.push_back({"first_step_inlet", {2e-9, 2e9, trace}});
    parts.points.push_back({"first_step_outlet", {3e-9, 2e9, trace}});
    parts.pipes.insert(parts.pipes.begin(), parts.pipes[0]);
    parts.pipes[0].name = "supply_pipe_1";
    parts.pipes[0].from = 3;
    parts.pipes[0].to = 4;
    parts.pipes[1].from = 5;

    auto& stage = parts.stages[0];
    stage.valve.friction = StemFriction{12, 17, 3e5, 700};
    stage.valve.area_slope = stage.cover.area_slope = -0.05;
    stage.valve.jet = 17;
    stage.pilot.friction = StemFriction{0.6, 0.8, 2e5, 90};
    stage.pilot.unbalanced_seat = UnbalancedSeat{2e-5, 7e5};
    stage.sustaining =
        SustainingPilot{1.1e-6, 2.2e-3, 1.9e-3, 16e4, 0.14, 55, {3e7, 1e-5, 15}, {2e8, 2e-6, 4}};
    stage.night = NightSetting{6e4, 1e-3, 3e-3, 7};
    stage.cocks = {BodyCock{{3e-4}, {1e-12, 1.2e9, trace}}, BodyCock{{2e-4}, {2e-12, 1.3e9, trace}}};
    stage.bleed = Bleed{3e-6, 0.62, 1.5, 1e-7, 288};
    stage.leaks = {1e-7, 2e-8, 3e-9};
    stage.cover.air_index = 1.3;
    stage.diaphragm = Diaphragm{1.5e-2, 2e-12, -0.05};
    stage.valve.trim.recovery = 0.85;
    stage.closing_control.exponent = 1.4;
    stage.cover_line = CoverLine{1.2e7, 2e6};

    DirectStage direct;
    direct.name = "beside";
    direct.valve = {.diaphragm_area = 5e-3,
                    .full_lift = 6e-3,
                    .moving_mass = 0.3,
                    .spring_rate = 26e3,
                    .stem_damping = 60,
                    .friction = StemFriction{4, 5, 2.5e5, 120},
                    .unbalanced_seat = UnbalancedSeat{3e-4, 6e5},
                    .port_capacity = 7.6e-8,
                    .trim = {2.7e-6, 6e-3, 0.8, 1600, Table({{0, 0}, {0.4, 0.3}, {1, 1}})},
                    .seat = pilot_stop,
                    .stop = pilot_stop};
    direct.chamber = small;
    direct.sensing_line = SensingLine{4e6, 9e7, 7e-8};
    direct.cocks = {BodyCock{{1e-4}, {1e-12, 1.2e9, trace}}, BodyCock{{8e-5}, {3e-12, 1.1e9, trace}}};
    auto ahead = direct;
    direct.cocks.check = CheckValve{7e-5, {4e-12, 1.3e9, trace}};
    ahead.name = "ahead";
    ahead.cocks.between = BetweenPoints{4, 5};
    parts.direct_stages = {direct, ahead};

    parts.points.push_back({"strainer_inlet", {4e-9, 2e9, trace}});
    parts.pipes[0].to = 6;
    parts.strainer = Strainer{"sieve", {6, 4}, 3e-4, 1e-3, 0.35};

    parts.demands.push_back({"tap", 1, true});
    parts.air_pockets = {{"pocket", 2, 1e-3, 1.25, 1e-5}, {"vessel", 1, 2e-3, 1.15, 2e-5, 1e-3}};
    parts.relief_valves = {
        {"safety", 2, 5.5e5, 3e-4, 5e-3, 2e4, 0.7, 0.3, 17, 9e-6, {3e7, 1e-5, 15}, {2e8, 2e-6, 4}}};
    return parts;
}

} // namespace needleturn::tests
