/// Keys of what was found or left on site; those of settings come from the table of controls (key_words.h says how keys are listed).
#pragma once

#include "scenarios/controls.h"
#include "scenarios/date.h"
#include "scenarios/key_words.h"
#include "scenarios/keys_of_stage.h"
#include "scenarios/range.h"
#include "scenarios/scenario.h"

#include <fmt/format.h>

#include <optional>
#include <string>
#include <string_view>

namespace needleturn::scenarios {

template <class On> void visit_recorded(On& on, SiteRecord& record, const std::string& control,
                                        std::string_view key, const ControlEntry& entry, Range range) {
    auto value = record.setting(control);
    on.optional(key, value, entry.dimension, range);
    record.set(control, value);
}

/// The set pressure, or the adjusting screw that makes it. `inlet_pressure` is that of the supply.
template <class On> void visit_recorded_screw(On& on, SiteRecord& record, const std::string& control,
                                              const Stage& stage, double inlet_pressure) {
    const auto screw = adjusting_screw_key(
        stage, [&](double spring) { return set_by_spring_at_start(stage, spring, inlet_pressure); });
    std::optional<double> turns;
    on.optional(screw.key, turns, screw.dimension, screw.range);
    on.check(!turns || !record.setting(control), screw.key, "set_pressure as well; write only one of them");
    if (turns)
        record.set(control, screw.to_member(*turns));
    on.check(!turns || *record.setting(control) > 0, screw.key, held_shut);
}

template <class On>
void visit_recorded(On& on, SiteRecord& record, const Stage& stage, double inlet_pressure) {
    for (const auto& entry : controls) {
        if (!entry.of_stage())
            continue;
        const auto control = fmt::format("{}.{}", stage.name, entry.key);
        visit_recorded(on, record, control, entry.key, entry, entry.range_at(stage));
        if (entry.control == Control::set_pressure)
            visit_recorded_screw(on, record, control, stage, inlet_pressure);
        const auto value = record.setting(control);
        const auto absence = entry.absence(stage);
        on.check(!value || absence.empty(), entry.key, absence);
        const auto refusal = value ? entry.refusal(stage, *value) : "";
        on.check(refusal.empty(), entry.key, refusal);
    }
}

/// `scenario` is that of the record, its stages and demands already read.
template <class On> void visit_keys(On& on, SiteRecord& record, const Scenario& scenario) {
    on.date("date", record.date);
    on.optional("remark", record.remark);
    on.table("outlet", Presence::optional, [&](auto& in) {
        in.optional("static_pressure", record.static_pressure, Dimension::pressure, any_pressure);
        in.optional("flowing_pressure", record.flowing_pressure, Dimension::pressure, any_pressure);
        in.optional("flow", record.flow, Dimension::flow, any_flow);
        in.check(!record.flow || record.flowing_pressure, "flowing_pressure",
                 "missing; write what the outlet gauge read at the flow beside it");
    });
    for (const auto& control : controls_of(scenario)) {
        if (control.entry().of_stage())
            continue;
        on.check(control.name != "date" && control.name != "remark", control.name,
                 "a consumer or branch has this name; give it another one");
        visit_recorded(on, record, control.name, control.name, control.entry(), control.entry().range);
    }
    const double inlet_pressure = record.setting("supply").value_or(scenario.supply.pressure);
    for (const auto& stage : scenario.stages) {
        on.check(stage.name != "date" && stage.name != "remark", stage.name,
                 "a stage has this name; give it another one");
        on.table(stage.name, Presence::optional,
                 [&](auto& in) { visit_recorded(in, record, stage, inlet_pressure); });
    }
}

/// Both records of a scenario, everything else of it already read.
template <class On> void visit_records(On& on, Scenario& scenario) {
    on.table("as_found", Presence::optional, [&](auto& in) { visit_keys(in, scenario.as_found, scenario); });
    on.table("as_left", Presence::optional, [&](auto& in) {
        visit_keys(in, scenario.as_left, scenario);
        const auto& found = scenario.as_found.date;
        const auto& left = scenario.as_left.date;
        in.check(found.empty() || left.empty() || !lies_before(left, found), "date",
                 fmt::format("lies before that of as_found, {}", found));
    });
}

} // namespace needleturn::scenarios
