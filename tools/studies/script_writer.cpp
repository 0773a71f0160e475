#include "tools/studies/script_writer.h"

#include "scenarios/units.h"
#include "tools/studies/hand_times.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace needleturn {

ScriptWriter::ScriptWriter(scenarios::Scenario station) : script_{std::move(station), {}} {
    scenario().supply.steps.clear();
    scenario().demand.steps.clear();
    scenario().adjustments.clear();
}

ProcedureStep& ScriptWriter::step(StepId id, std::string title) {
    auto& steps = script_.steps;
    while (std::ranges::find(steps, id, &ProcedureStep::id) != steps.end())
        ++id.time;
    auto& added = steps.emplace_back();
    added.id = id;
    added.title = std::move(title);
    added.begin = added.hands_off = added.end = now_;
    return added;
}

void ScriptWriter::hand(std::string text) { script_.steps.back().hands.push_back(std::move(text)); }

void ScriptWriter::demand(double to, double over) {
    scenario().demand.steps.push_back({now_, to, over});
    pass(over);
}

void ScriptWriter::adjust(std::size_t stage, scenarios::Control what, double to, double over) {
    scenario().adjustments.push_back({now_, stage, what, to, over});
    pass(over);
}

void ScriptWriter::outlet_cock(std::size_t stage, double to) {
    hand(fmt::format("{} the outlet cock of {}", to > 0 ? "open" : "shut", scenario().stages[stage].name));
    adjust(stage, scenarios::Control::outlet_cock, to, hand_times::shut_cock);
}

void ScriptWriter::wait(double seconds) {
    script_.steps.back().hands_off = now_;
    pass(seconds);
    scenario().run.duration = now_;
}

std::string ScriptWriter::show(double si, scenarios::Dimension dimension) const {
    return scenarios::format_quantity(si, dimension, scenario().units);
}

void ScriptWriter::pass(double seconds) {
    now_ += seconds;
    script_.steps.back().end = now_;
}

} // namespace needleturn
