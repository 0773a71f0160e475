#include "tools/studies/script_writer.h"

#include "scenarios/demands.h"
#include "tools/studies/hand_times.h"
#include "tools/studies/own_changes.h"

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

namespace needleturn {

ScriptWriter::ScriptWriter(scenarios::Scenario station) : script_{std::move(station), {}} {
    scenarios::hold_supply(scenario());
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

void ScriptWriter::stated_changes(const scenarios::Scenario& given, double settle,
                                  const std::vector<double>& shares, double flow) {
    std::vector<const scenarios::Demand*> stated;
    scenarios::visit_demands(
        given, [&](const std::string&, const scenarios::Demand& demand) { stated.push_back(&demand); });
    const auto each = [&](const auto& on) {
        auto next = stated.begin();
        scenarios::visit_demands(
            scenario(), [&](const std::string&, scenarios::Demand& demand) { on(demand, **next++); });
    };
    const auto go_to = [&](scenarios::Demand& demand, double to) {
        if (to != (demand.steps.empty() ? demand.start : demand.steps.back().to))
            demand.steps.push_back({now_, to, hand_times::slow_hand});
    };
    tell_start(given);
    each([&](scenarios::Demand& demand, const scenarios::Demand& of) { go_to(demand, of.start); });
    pass(hand_times::slow_hand + settle);

    const double first = begin_of_own_changes(given), later = now_ - first;
    const auto put = [&](std::vector<scenarios::Step>& to, const std::vector<scenarios::Step>& steps) {
        for (const auto& step : steps)
            to.push_back({step.at + later, step.to, step.over});
    };
    put(scenario().supply.steps, given.supply.steps);
    if (given.supply.strainer)
        put(scenario().supply.strainer->steps, given.supply.strainer->steps);
    each([&](scenarios::Demand& demand, const scenarios::Demand& of) {
        if (!of.follows_course())
            put(demand.steps, of.steps);
    });
    tell_changes(given, first);
    pass(time_of_own_changes(given) + settle);

    const auto& supply = given.supply;
    if (!supply.steps.empty())
        scenario().supply.steps.push_back({now_, supply.pressure, hand_times::slow_hand});
    bool ahead = !supply.steps.empty();
    if (supply.strainer && !supply.strainer->steps.empty()) {
        scenario().supply.strainer->steps.push_back({now_, supply.strainer->open, hand_times::slow_hand});
        ahead = true;
    }
    for (auto& consumer : scenario().supply.consumers) {
        ahead = ahead || !consumer.demand.steps.empty();
        go_to(consumer.demand, consumer.demand.start);
    }
    if (ahead)
        hand({Deed::supply_as_before, 0, {.over = hand_times::slow_hand}});
    tell_outlets(shares, flow);
    draw(shares, flow, hand_times::slow_hand);
}

void ScriptWriter::tell_outlets(const std::vector<double>& shares, double flow) {
    hand({Deed::set_outlets,
          0,
          {.flow = flow, .over = hand_times::slow_hand},
          scenarios::Control::set_pressure,
          shares});
}

void ScriptWriter::tell_start(const scenarios::Scenario& given) {
    double flow = 0;
    std::vector<double> shares;
    scenarios::visit_outlets(given, [&](const std::string&, const scenarios::Demand& demand) {
        flow += demand.start;
        shares.push_back(demand.start);
    });
    if (!(flow > 0)) {
        hand({Deed::shut_outlets});
        return;
    }
    for (auto& share : shares)
        share /= flow;
    tell_outlets(shares, flow);
}

void ScriptWriter::tell_changes(const scenarios::Scenario& given, double first) {
    constexpr std::size_t most = 8; // lines of a step on a phone
    std::vector<Hand> changes;
    for (const auto& step : given.supply.steps)
        changes.push_back(
            {Deed::supply_changes, 0, {.pressure = step.to, .over = step.over, .after = step.at - first}});
    if (given.supply.strainer)
        for (const auto& step : given.supply.strainer->steps)
            changes.push_back(
                {Deed::strainer_changes, 0, {.over = step.over, .after = step.at - first, .share = step.to}});
    scenarios::visit_demands(given, [&](const std::string& name, const scenarios::Demand& demand) {
        for (const auto& step : demand.follows_course() ? std::vector<scenarios::Step>{} : demand.steps) {
            changes.push_back(
                {Deed::outlet_changes, 0, {.flow = step.to, .over = step.over, .after = step.at - first}});
            changes.back().what = name;
        }
    });
    std::ranges::stable_sort(changes, {}, [](const Hand& change) { return change.amounts.after; });
    if (changes.size() > most)
        changes = {{Deed::many_changes, 0, {.over = time_of_own_changes(given), .count = changes.size()}}};
    for (const auto& change : changes)
        hand(change);
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
