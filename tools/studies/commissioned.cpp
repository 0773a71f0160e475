#include "tools/studies/commissioned.h"

#include "scenarios/connected.h"
#include "scenarios/controls.h"
#include "scenarios/demands.h"
#include "scenarios/static_setting.h"
#include "tools/studies/hand_times.h"
#include "tools/studies/outlets.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <stdexcept>
#include <tuple>
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

double spun_pressure(const Scenario& scenario, double seconds) {
    const auto& main = scenario.stages[main_stage(scenario)];
    return hand_times::slack * main.set_pressure + hand_times::spun * seconds * per_turn(main);
}

double longest_change(const Scenario& scenario) {
    double longest = 0;
    scenarios::visit_outlets(scenario, [&](const std::string&, const scenarios::Demand& demand) {
        for (const auto& step : demand.steps)
            longest = std::max(longest, step.over);
    });
    return longest;
}

double screw_turns(const Scenario& scenario, const Stage& stage, double set_pressure) {
    const double at = scenarios::set_at(inlet_pressure(scenario, stage), set_pressure);
    return scenarios::spring_of(stage, set_pressure, at) / spring_per_turn(stage);
}

Scenario as_adjusted(Scenario scenario) {
    for (const auto& adjustment : scenario.adjustments)
        if (std::ranges::count(screws_and_needles, adjustment.what) > 0)
            *start_of(scenarios::entry_of(adjustment.what), scenario.stages[adjustment.stage]) =
                adjustment.to;
    scenario.adjustments.clear();
    return scenario;
}

std::size_t main_stage(const Scenario& scenario) {
    const auto& stages = scenario.stages;
    const auto main = std::ranges::find_if(stages, &Stage::is_main);
    if (main == stages.end())
        throw std::invalid_argument(
            in_two_steps(stages)
                ? "a rehearsal needs a pilot-operated stage: none behind the first step has a pilot"
                : "a rehearsal needs a pilot-operated stage: no stage has a pilot");
    return static_cast<std::size_t>(main - stages.begin());
}

std::vector<std::size_t> main_stages(const Scenario& scenario) {
    auto order = order_of_setting(scenario);
    std::erase_if(order, [&](std::size_t i) { return scenario.stages[i].pilot_operated() == nullptr; });
    return order;
}

std::vector<std::size_t> order_of_setting(const Scenario& scenario) {
    const auto& stages = scenario.stages;
    const auto first = main_stage(scenario);
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < stages.size(); ++i)
        if (!stages[i].first_step)
            order.push_back(i);
    std::ranges::stable_sort(order, std::ranges::greater{}, [&](std::size_t i) {
        return std::tuple{i == first, stages[i].pilot_operated() != nullptr, stages[i].set_pressure};
    });
    return order;
}

double flow_to_set_at(const Scenario& scenario, std::size_t i, double full) {
    const auto capacity = [&](std::size_t j) {
        return scenario.stages[j].pilot_operated()->main_valve.capacity;
    };
    double all = 0;
    for (const auto j : main_stages(scenario))
        all += capacity(j);
    return full * (capacity(i) / all);
}

std::size_t cover_read(const Scenario& scenario, std::size_t i) {
    const auto& stage = scenario.stages.at(i);
    return stage.is_main() ? i : main_stage(scenario);
}

std::string of_which_main(const Scenario& scenario, std::size_t i) {
    return main_stages(scenario).size() > 1 ? " of " + scenario.stages[i].name : "";
}

std::string main_called(const Scenario& scenario, std::size_t i) {
    return main_stages(scenario).size() > 1 ? scenario.stages[i].name : "the main valve";
}

} // namespace needleturn
