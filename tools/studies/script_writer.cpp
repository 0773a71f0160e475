#include "tools/studies/script_writer.h"

#include "scenarios/demands.h"
#include "tools/studies/hand_times.h"

#include <algorithm>
#include <utility>

namespace needleturn {

ScriptWriter::ScriptWriter(scenarios::Scenario station) : script_{std::move(station), {}} {
    scenario().supply.steps.clear();
    scenarios::visit_outlets(scenario(),
                             [](const std::string&, scenarios::Demand& demand) { demand.steps.clear(); });
    scenario().adjustments.clear();
}

ProcedureStep& ScriptWriter::step(StepId id) {
    auto& steps = script_.steps;
    while (std::ranges::find(steps, id, &ProcedureStep::id) != steps.end())
        ++id.time;
    auto& added = steps.emplace_back();
    added.id = id;
    added.begin = added.hands_off = added.end = now_;
    return added;
}

void ScriptWriter::hand(const Hand& done) { script_.steps.back().hands.push_back(done); }

void ScriptWriter::draw(const std::vector<double>& shares, double flow, double over) {
    auto share = shares.begin();
    scenarios::visit_outlets(scenario(), [&](const std::string&, scenarios::Demand& demand) {
        const double to = *share++ * flow;
        // Of several outlets those are told that move.
        if (shares.size() == 1 || to != (demand.steps.empty() ? demand.start : demand.steps.back().to))
            demand.steps.push_back({now_, to, over});
    });
    pass(over);
}

void ScriptWriter::adjust(std::size_t stage, scenarios::Control what, double to, double over) {
    scenario().adjustments.push_back({now_, stage, what, to, over});
    pass(over);
}

void ScriptWriter::outlet_cock(std::size_t stage, double to) {
    hand({to > 0 ? Deed::open_outlet_cock : Deed::shut_outlet_cock, stage});
    adjust(stage, scenarios::Control::outlet_cock, to, hand_times::shut_cock);
}

void ScriptWriter::wait(double seconds) {
    script_.steps.back().hands_off = now_;
    pass(seconds);
    scenario().run.duration = now_;
}

void ScriptWriter::pass(double seconds) {
    now_ += seconds;
    script_.steps.back().end = now_;
}

} // namespace needleturn
