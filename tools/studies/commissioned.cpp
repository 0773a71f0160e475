#include "tools/studies/commissioned.h"

#include "scenarios/connected.h"
#include "scenarios/static_setting.h"
#include "tools/studies/outlets.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <variant>
#include <vector>

namespace needleturn {

using scenarios::Control;
using scenarios::Scenario;
using scenarios::Stage;

ProofFlows proof_flows(const Scenario& scenario) {
    auto all = wanted_flows(scenario);
    std::erase_if(all, [](double flow) { return !(flow > 0); });
    if (all.empty())
        throw std::invalid_argument(
            "a rehearsal needs a demand with flow: no outlet behind the station ever flows");
    const auto [low, full] = std::ranges::minmax(all);
    // Between them in ratio, at the demand's own step nearest to that where it has one.
    const double middle = std::sqrt(low * full);
    const auto distance = [&](double flow) { return std::abs(std::log(flow / middle)); };
    const double own = *std::ranges::min_element(all, {}, distance);
    return {low, own > low && own < full ? own : middle, full};
}

namespace {

/// Pa of spring, as pressure on the diaphragm.
double spring_per_turn(const Stage& stage) {
    if (const auto* hardware = stage.pilot_operated())
        return hardware->pilot.pressure_per_turn;
    return std::get<scenarios::DirectActingHardware>(stage.hardware).pressure_per_turn;
}

} // namespace

double per_turn(const Stage& stage) { return scenarios::set_by_spring(stage, spring_per_turn(stage), 0); }

double sustaining_per_turn(const Stage& stage) { return stage.pilot_operated()->pilot.pressure_per_turn; }

double screw_turns(const Scenario& scenario, const Stage& stage, double set_pressure) {
    const double at = scenarios::set_at(inlet_pressure(scenario, stage), set_pressure);
    return scenarios::spring_of(stage, set_pressure, at) / spring_per_turn(stage);
}

Scenario as_adjusted(Scenario scenario) {
    for (const auto& adjustment : scenario.adjustments) {
        auto& stage = scenario.stages[adjustment.stage];
        if (adjustment.what == Control::set_pressure)
            stage.set_pressure = adjustment.to;
        if (adjustment.what == Control::sustaining_pressure)
            stage.sustaining_pressure = adjustment.to;
        if (adjustment.what == Control::opening_control)
            stage.opening_control = adjustment.to;
        if (adjustment.what == Control::closing_control)
            stage.closing_control = adjustment.to;
    }
    scenario.adjustments.clear();
    return scenario;
}

std::size_t main_stage(const Scenario& scenario) {
    const auto& stages = scenario.stages;
    const auto main = std::ranges::find_if(
        stages, [](const Stage& s) { return s.pilot_operated() != nullptr && !s.first_step; });
    if (main == stages.end())
        throw std::invalid_argument(
            in_two_steps(stages)
                ? "a rehearsal needs a pilot-operated stage: none behind the first step has a pilot"
                : "a rehearsal needs a pilot-operated stage: no stage has a pilot");
    return static_cast<std::size_t>(main - stages.begin());
}

} // namespace needleturn
