#include "tools/studies/fault_library.h"

#include "models/laws/restriction.h"
#include "scenarios/connected.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Scenario;
using scenarios::Stage;

/// One state of health: a change of the scenario, or of the parts built from it.
struct State {
    Fault fault = Fault::none;
    std::function<void(Scenario&, Stage& main)> set_up = {};
    std::function<void(models::PilotStage& main, double opening_turns)> wear_out = {};
};

/// Direct-acting stages beside the main valve.
bool has_bypass(const Scenario& scenario) {
    return std::ranges::any_of(scenario.stages, [](const Stage& stage) {
        return stage.direct_acting() != nullptr && !stage.first_step;
    });
}

/// `left`: of its capacity.
void throttle_sensing_line(models::PilotStage& main, double left) {
    main.sensing_line.capacity *= left;
    main.sensing_line.resistance += std::sqrt(models::small_passage_knee / 2) / main.sensing_line.capacity;
}

/// Sizes of the faults: so large that a fitter would be called, chosen; the sizes of real ones vary.
std::vector<State> library(const Scenario& scenario) {
    using models::PilotStage;
    constexpr double nearly_shut = 0.1; // turns
    std::vector<State> states{
        {},
        {Fault::air_in_cover,
         [](Scenario&, Stage& main) {
             main.air_in_cover.volume = 0.15 * main.pilot_operated()->cover.volume;
             main.air_in_cover.at.reset();
         }},
        {Fault::restriction_plugged, {}, [](PilotStage& main, double) { main.restriction_capacity *= 0.15; }},
        {Fault::opening_control_nearly_shut,
         [](Scenario&, Stage& main) { main.opening_control = nearly_shut; }},
        {Fault::closing_control_nearly_shut,
         [](Scenario&, Stage& main) { main.closing_control = nearly_shut; }},
        {Fault::opening_check_stuck_open,
         {},
         // Its needle passes what the check lets by besides.
         [](PilotStage& main, double turns) {
             auto& control = main.opening_control;
             const double needle = control.needle_capacity(turns);
             control.capacity *= (needle + control.check_capacity) / needle;
         }},
        {Fault::pilot_sluggish, {}, [](PilotStage& main, double) { main.pilot.stem_damping *= 3000; }},
        {Fault::pilot_diaphragm_leaking,
         {},
         [](PilotStage& main, double) { main.leaks.pilot_diaphragm = 0.35 * main.sensing_line.capacity; }},
        {Fault::main_diaphragm_leaking,
         {},
         [](PilotStage& main, double) { main.leaks.main_diaphragm = 1.2 * main.restriction_capacity; }},
        {Fault::seat_held_open,
         {},
         [](PilotStage& main, double) { main.leaks.seat = 0.003 * main.valve.trim.capacity; }},
        {Fault::sensing_line_throttled,
         {},
         [](PilotStage& main, double) { throttle_sensing_line(main, 0.02); }},
        {Fault::sensing_line_isolated,
         {},
         [](PilotStage& main, double) { throttle_sensing_line(main, 1e-5); }},
        {Fault::set_close_to_inlet,
         [](Scenario& station, Stage& main) { main.set_pressure = inlet_pressure(station, main) - 0.2e5; }},
        {Fault::inlet_starved,
         [](Scenario& station, Stage&) {
             auto& pipe = station.supply.pipe;
             pipe.bore *= 0.4;
             pipe.roughness = std::min(pipe.roughness, pipe.bore / 25);
         }},
    };
    if (scenario.supply.strainer)
        states.push_back({Fault::strainer_clogged, [](Scenario& station, Stage&) {
                              constexpr double left = 0.08; // of its meshes
                              auto& open = station.supply.strainer->open;
                              open = std::max(left * open, models::Strainer::least_open);
                          }});
    if (scenario.stages[pilot_stage(scenario)].sustaining_pressure.value_or(0) > 0) {
        states.push_back({Fault::sustaining_set_high, [](Scenario& station, Stage& main) {
                              main.sustaining_pressure = inlet_pressure(station, main) - 0.3e5;
                          }});
        states.push_back(
            {Fault::sustaining_backed_off, [](Scenario&, Stage& main) { main.sustaining_pressure = 0; }});
    }
    if (scenario.stages[pilot_stage(scenario)].night_setting) {
        states.push_back({Fault::stuck_by_day, [](Scenario&, Stage& main) { main.night_setting.reset(); }});
        states.push_back({Fault::stuck_by_night, [](Scenario&, Stage& main) {
                              main.set_pressure -= main.night_setting->lower_by;
                              main.night_setting.reset();
                          }});
    }
    if (has_bypass(scenario))
        states.push_back({Fault::bypass_set_below_main, [](Scenario& station, Stage& main) {
                              for (auto& stage : station.stages)
                                  if (stage.direct_acting() && !stage.first_step)
                                      stage.set_pressure = main.set_pressure - 1e5;
                          }});
    return states;
}

} // namespace

std::size_t pilot_stage(const Scenario& scenario) {
    // Of two main valves the one that is shut off shows nothing: so each can be looked at by itself.
    auto main = std::ranges::find_if(scenario.stages,
                                     [](const Stage& stage) { return stage.is_main() && !stage.shut_off(); });
    if (main == scenario.stages.end())
        main = std::ranges::find_if(scenario.stages, &Stage::is_main);
    if (main == scenario.stages.end())
        throw std::invalid_argument(
            in_two_steps(scenario.stages)
                ? "faults needs a pilot-operated stage: none behind the first step has a pilot"
                : "faults needs a pilot-operated stage: no stage has a pilot");
    return static_cast<std::size_t>(main - scenario.stages.begin());
}

std::vector<Fault> faults_of(const Scenario& scenario) {
    pilot_stage(scenario);
    std::vector<Fault> faults;
    for (const auto& state : library(scenario))
        faults.push_back(state.fault);
    return faults;
}

FaultyStation with_fault(Scenario scenario, Fault fault) {
    const auto main = pilot_stage(scenario);
    const auto states = library(scenario);
    const auto state = std::ranges::find(states, fault, &State::fault);
    if (state == states.end())
        throw std::invalid_argument("faults: this station cannot have that fault");
    if (state->set_up)
        state->set_up(scenario, scenario.stages[main]);
    if (!state->wear_out)
        return {std::move(scenario), {}};
    auto wear = [name = scenario.stages[main].name, turns = scenario.stages[main].opening_control,
                 wear_out = state->wear_out](scenarios::Installation& installation) {
        wear_out(*std::ranges::find(installation.parts.stages, name, &models::PilotStage::name), turns);
    };
    return {std::move(scenario), std::move(wear)};
}

} // namespace needleturn
