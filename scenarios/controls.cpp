#include "scenarios/controls.h"

#include "scenarios/demands.h"

#include <fmt/format.h>

#include <utility>

namespace needleturn::scenarios {

namespace {

/// The demand of a control. S: Scenario, const or not.
template <class S> auto& demand_in(S& scenario, const PlacedControl& control) {
    auto* found = &scenario.demand;
    std::size_t i = 0;
    visit_demands(scenario, [&](const std::string&, auto& demand) {
        if (i++ == control.index)
            found = &demand;
    });
    return *found;
}

template <class S> auto& start_in(S& scenario, const PlacedControl& control) {
    if (control.control == Control::supply)
        return scenario.supply.pressure;
    if (control.control == Control::strainer)
        return scenario.supply.strainer->open;
    if (control.control == Control::demand)
        return demand_in(scenario, control).start;
    return *start_of(control.entry(), scenario.stages[control.index]);
}

bool is_of(const Adjustment& adjustment, const PlacedControl& control) {
    return adjustment.stage == control.index && adjustment.what == control.control;
}

} // namespace

Range ControlEntry::range_at(const Stage& stage) const {
    Range here = range;
    if (const auto* hardware = stage.pilot_operated(); hardware && most)
        here.high = most(*hardware);
    return here;
}

std::string ControlEntry::refusal(const Stage& stage, double value) const {
    const auto* hardware = stage.pilot_operated();
    if (!at_once() || !hardware || value < hardware->cover.volume)
        return {};
    return fmt::format("must be less than the cover holds, {}",
                       format_quantity(hardware->cover.volume, dimension, UnitSystem::si));
}

std::string ControlEntry::absence(const Stage& stage) const {
    if (start_of(*this, stage) != nullptr)
        return {};
    if (lacking && stage.direct_acting())
        return lacking;
    const auto value = exact_quantity(unnamed, dimension);
    return fmt::format("{} has no {}; write {} = {} in its [[stage]]", stage.name, label, key,
                       dimension == Dimension::ratio ? value : fmt::format("\"{}\"", value));
}

std::string start_key(const Scenario& scenario, const PlacedControl& control) {
    if (control.control == Control::supply)
        return "supply.pressure";
    if (control.control == Control::strainer)
        return "supply.strainer.open";
    if (control.control != Control::demand)
        return control.name;
    const auto consumers = scenario.supply.consumers.size();
    if (control.index == 0)
        return "demand.start";
    if (control.index <= consumers)
        return fmt::format("supply.consumer.{}.start", control.index);
    return fmt::format("downstream.branch.{}.demand.start", control.index - consumers);
}

std::vector<PlacedControl> controls_of(const Scenario& scenario) {
    std::vector<PlacedControl> all{{entry_of(Control::supply).name, Control::supply, 0}};
    if (scenario.supply.strainer)
        all.push_back({entry_of(Control::strainer).key, Control::strainer, 0});
    std::size_t i = 0;
    visit_demands(scenario, [&](const std::string& name, const Demand&) {
        all.push_back({name, Control::demand, i++});
    });
    for (std::size_t stage = 0; stage < scenario.stages.size(); ++stage)
        for (const auto& entry : controls)
            if (start_of(entry, scenario.stages[stage]))
                all.push_back({scenario.stages[stage].name + "." + entry.key, entry.control, stage});
    return all;
}

const Demand& demand_of(const Scenario& scenario, const PlacedControl& control) {
    return demand_in(scenario, control);
}

double& start_of(Scenario& scenario, const PlacedControl& control) { return start_in(scenario, control); }
double start_of(const Scenario& scenario, const PlacedControl& control) {
    return start_in(scenario, control);
}

std::vector<Step> changes_of(const Scenario& scenario, const PlacedControl& control) {
    if (control.control == Control::supply)
        return scenario.supply.steps;
    if (control.control == Control::strainer)
        return scenario.supply.strainer->steps;
    if (control.control == Control::demand)
        return demand_in(scenario, control).steps;
    std::vector<Step> own;
    for (const auto& adjustment : scenario.adjustments)
        if (is_of(adjustment, control))
            own.push_back({adjustment.at, adjustment.to, adjustment.over});
    return own;
}

void set_changes(Scenario& scenario, const PlacedControl& control, std::vector<Step> changes) {
    if (control.control == Control::supply) {
        scenario.supply.steps = std::move(changes);
    } else if (control.control == Control::strainer) {
        scenario.supply.strainer->steps = std::move(changes);
    } else if (control.control == Control::demand) {
        demand_in(scenario, control).steps = std::move(changes);
    } else {
        auto& all = scenario.adjustments;
        std::erase_if(all, [&](const Adjustment& other) { return is_of(other, control); });
        for (const auto& change : changes)
            all.push_back({change.at, control.index, control.control, change.to, change.over});
        std::ranges::stable_sort(all, {}, &Adjustment::at);
    }
}

} // namespace needleturn::scenarios
