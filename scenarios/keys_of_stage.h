/// Keys of a stage and of what hands turn at it; those of its controls come from the table of controls (key_words.h says how keys
/// are listed).
#pragma once

#include "scenarios/connected.h"
#include "scenarios/controls.h"
#include "scenarios/key_words.h"
#include "scenarios/keys_of_line.h"
#include "scenarios/range.h"
#include "scenarios/scenario.h"
#include "scenarios/static_setting.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <type_traits>
#include <variant>
#include <vector>

namespace needleturn::scenarios {

inline Alternative alternative_of(const ControlEntry& entry, const Stage& stage) {
    return {entry.key, entry.dimension, entry.range_at(stage)};
}
/// `set_by(spring)` is the set pressure of a spring's force, as pressure on the diaphragm (static_setting.h).
template <class SetBy> Alternative adjusting_screw_key(const Stage& stage, const SetBy& set_by) {
    const auto* direct = stage.direct_acting();
    const double per_turn = direct ? direct->pressure_per_turn
                                   : std::get<PilotOperatedHardware>(stage.hardware).pilot.pressure_per_turn;
    return {"adjusting_screw", Dimension::turns, positive,
            [per_turn, set_by](double turns) { return set_by(turns * per_turn); }};
}

inline constexpr auto held_shut = "must be more: the supply's pressure at the start holds a disc that is not "
                                  "balanced shut against such a spring";

/// `inlet_pressure` is what comes to it at the start.
template <class On> void visit_set_pressure(On& on, Stage& stage, double inlet_pressure) {
    std::size_t chosen = 0;
    bool beyond = false; // a flowing pressure that the supply of the start cannot give
    std::vector<Alternative> ways{alternative_of(entry_of(Control::set_pressure), stage),
                                  adjusting_screw_key(stage, [&stage, inlet_pressure](double spring) {
                                      return set_by_spring_at_start(stage, spring, inlet_pressure);
                                  })};
    if (const auto* hardware = stage.pilot_operated())
        ways.push_back({"flowing_pressure", Dimension::pressure, positive_pressure,
                        [&stage, hardware, inlet_pressure, &beyond](double flowing) {
                            beyond = !(flowing < inlet_pressure);
                            return static_setting(*hardware, inlet_pressure, flowing,
                                                  stage.sustaining_pressure);
                        }});
    on.one_of(stage.set_pressure, chosen, ways);
    constexpr std::size_t screw = 1;
    on.check(chosen != screw || stage.set_pressure > 0, "adjusting_screw", held_shut);
    on.check(!beyond, "flowing_pressure",
             "must be less than the pressure that comes to the stage at the start; a screw that was set at "
             "another supply is written as set_pressure");
    double none = 0;
    if (stage.direct_acting())
        on.refuse("flowing_pressure", none,
                  "a direct-acting valve falls off with its flow; write set_pressure, static");
}

/// Where a control of a stage stands at the start.
template <class On>
void visit_control(On& on, const ControlEntry& entry, Stage& stage, double inlet_pressure) {
    const auto visit = [&](auto member) {
        using Member = decltype(member);
        if constexpr (!std::is_same_v<Member, std::monostate>) {
            auto& start = stage.*member;
            if (entry.lacking && stage.direct_acting()) {
                on.refuse(entry.key, start, entry.lacking);
                return;
            }
            if (entry.control == Control::set_pressure) {
                visit_set_pressure(on, stage, inlet_pressure);
                return;
            }
            if constexpr (std::is_same_v<Member, TrappedAir Stage::*>)
                visit_air(on, entry.key, start);
            else if constexpr (std::is_same_v<Member, double Stage::*>)
                on.required(entry.key, start, entry.dimension, entry.range_at(stage));
            else
                on.optional(entry.key, start, entry.dimension, entry.range_at(stage));
        }
    };
    std::visit(visit, entry.member);
    if (const auto* start = start_of(entry, stage)) {
        const auto refusal = entry.refusal(stage, *start);
        on.check(refusal.empty(), entry.key, refusal);
    }
}

template <class On> void visit_keys(On& on, NightSetting& night, double set_pressure) {
    on.required("lower_by", night.lower_by, Dimension::pressure, positive);
    on.check(night.lower_by < set_pressure, "lower_by", "must be less than the set pressure of its stage");
    on.required("below", night.below, Dimension::flow, not_negative);
    on.required("above", night.above, Dimension::flow, positive);
    on.check(night.above > night.below, "above", "must be more than below");
    on.optional("lag", night.lag, Dimension::time, Range{1e-3, 3600}, night.lag);
}

/// `inlet_pressure` is what comes to it at the start.
template <class On> void visit_keys(On& on, Stage& stage, double inlet_pressure) {
    if (stage.first_step)
        on.required("name", stage.name);
    else
        on.optional("name", stage.name);
    check_name(on, stage.name);
    on.hardware("hardware", "override", stage.hardware);
    for (const auto& entry : controls)
        visit_control(on, entry, stage, inlet_pressure);
    if (stage.direct_acting())
        on.refuse("night_setting", stage.night_setting, "a direct-acting valve has no pilot to ease");
    else
        on.option("night_setting", stage.night_setting,
                  [&](auto& in, NightSetting& night) { visit_keys(in, night, stage.set_pressure); });
    on.optional("check_valve", stage.check_valve, Dimension::capacity, positive);
}

template <class On> void visit_adjustments(On& on, Scenario& scenario) {
    auto& adjustments = scenario.adjustments;
    const auto& stages = scenario.stages;
    const double duration = scenario.run.duration;
    on.list("steps", Presence::optional, adjustments, [&](auto& in, Adjustment& adjustment, std::size_t i) {
        in.required("at", adjustment.at, Dimension::time, not_negative);
        in.stage_name("stage", adjustment.stage, stages);
        const auto& stage = stages.at(adjustment.stage);
        std::vector<Alternative> keys;
        std::vector<Control> meant;
        for (const auto& entry : controls)
            if (entry.of_stage()) {
                keys.push_back(alternative_of(entry, stage));
                meant.push_back(entry.control);
            }
        const double set_when = set_at(inlet_pressure(scenario, stage), stage.set_pressure);
        keys.push_back(adjusting_screw_key(
            stage, [&stage, set_when](double spring) { return set_by_spring(stage, spring, set_when); }));
        meant.push_back(Control::set_pressure);
        auto chosen =
            static_cast<std::size_t>(std::find(meant.begin(), meant.end(), adjustment.what) - meant.begin());
        in.one_of(adjustment.to, chosen, keys);
        adjustment.what = meant[chosen];
        in.check(chosen + 1 != keys.size() || adjustment.to > 0, "adjusting_screw", held_shut);
        const auto& entry = entry_of(adjustment.what);
        const auto absence = entry.absence(stage);
        in.check(absence.empty(), entry.key, absence);
        const auto refusal = entry.refusal(stage, adjustment.to);
        in.check(refusal.empty(), entry.key, refusal);
        in.optional("over", adjustment.over, Dimension::time, not_negative);
        in.check(!entry.at_once() || adjustment.over == 0, "over",
                 fmt::format("{} changes at once", entry.key));
        double free_from = 0;
        for (std::size_t j = 0; j < i; ++j)
            if (adjustments[j].stage == adjustment.stage && adjustments[j].what == adjustment.what)
                free_from = adjustments[j].at + adjustments[j].over;
        check_time(in, adjustment, i > 0 ? adjustments[i - 1].at : 0, free_from, duration);
    });
}

} // namespace needleturn::scenarios
