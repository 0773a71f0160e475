#include "tools/commands/sheet_content.h"

#include "scenarios/connected.h"
#include "scenarios/controls.h"
#include "scenarios/limits.h"
#include "scenarios/plausibility.h"
#include "scenarios/units.h"
#include "tools/commands/outlets_text.h"
#include "tools/commands/rehearse.h"
#include "tools/commands/relief_text.h"
#include "tools/commands/site_record_text.h"
#include "tools/commands/verdict_text.h"
#include "tools/results/doubts.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/outlets.h"
#include "tools/studies/recorded_start.h"
#include "tools/studies/simulate.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace needleturn {

using scenarios::Control;
using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

namespace {

/// Common practice of the trade, no source; what binds is what the last one says.
constexpr std::array<std::string_view, 9> usual_cautions{
    "Stored pressure: water and air behind a fitting, a cover or a plug come out at once. Crack fittings "
    "slowly, a quarter "
    "turn, face and hands aside, eyes protected; never take one out under pressure.",
    "Relieve before opening: isolate, open an outlet, and see outlet and cover gauges at zero before "
    "anything is opened. "
    "A gauge at zero may be blocked or shut off: try a second point.",
    "Hot water scalds: know the temperature before a fitting is cracked or an outlet opened.",
    "Discharge and electricity: lead the water away; keep it from switchgear, cables, floors that people "
    "walk on; no pump or "
    "motor above its drain.",
    "Rating downstream: everything behind the valve must stand the inlet pressure or be guarded by a relief "
    "valve that works "
    "and is set; a valve with a dry cover holds nothing back.",
    "Isolation and lock-out: lock and tag the cocks and what can start a pump; one key, one person; tell "
    "those who will be "
    "without water, fire protection first.",
    "Confined chambers: test the air, ventilate, keep a second person outside; do not enter for what can be "
    "done from above.",
    "Wholesome water: only approved parts and lubricants; clean hands and tools; flush, and disinfect where "
    "the rules ask for "
    "it, before the water is drunk.",
    "Local codes, the maker's instructions and licensed practice come before this sheet. Its readings are "
    "simulated with "
    "generic hardware: a valve that reads otherwise is not wrong, it is to be understood before going on.",
};

/// Where water stands above the valve: what that makes of the caution to relieve before opening. Else empty.
std::string caution_of_head(const Scenario& scenario) {
    const double head = scenarios::standing_head(scenario);
    if (head < scenarios::gauge_division)
        return {};
    const auto shown = format_quantity(head, Dimension::pressure, scenario.units);
    return fmt::format(
        "Here water stands above the valve: with every cock shut and the highest outlet open the outlet "
        "gauge still reads {}, not zero, and a fitting opened then lets out up to {}. Only a drain at the "
        "low "
        "point behind the valve relieves it.",
        shown, format_quantity(standing_volume(scenario), Dimension::volume, scenario.units));
}

/// `scenario` as its adjustments leave it.
std::vector<SheetEntry> entries(const Scenario& scenario, const Lesson& lesson) {
    const auto units = scenario.units;
    const auto turns = [](double value) { return fmt::format("{:.2f}", value); };
    std::vector<SheetEntry> list;
    for (std::size_t i = 0; i < scenario.stages.size(); ++i) {
        const auto& stage = scenario.stages[i];
        const auto& start = lesson.usual.scenario.stages[i];
        for (const auto control : {Control::set_pressure, Control::sustaining_pressure}) {
            const auto& entry = scenarios::entry_of(control);
            const auto* leave = start_of(entry, stage);
            if (!leave)
                continue;
            const auto turned = [&](double si) { return turns_of(scenario, i, control, si); };
            list.push_back({fmt::format("{}: {}, turns from slack", stage.name,
                                        control == Control::set_pressure ? "screw" : entry.label),
                            turns(turned(*start_of(entry, start))), turns(turned(*leave))});
            auto recorded = recorded_values(scenario, fmt::format("{}.{}", stage.name, entry.key), *leave);
            for (auto* value : {&recorded.found, &recorded.left, &recorded.wanted})
                if (*value)
                    **value = turned(**value);
            put_recorded(list.back(), recorded, Dimension::turns, units, true);
        }
        if (!stage.pilot_operated())
            continue;
        for (const auto control : {Control::opening_control, Control::closing_control}) {
            const auto& entry = scenarios::entry_of(control);
            const double leave = *start_of(entry, stage);
            list.push_back({fmt::format("{}: {}, turns from seated", stage.name, entry.name),
                            turns(*start_of(entry, start)), turns(leave)});
            put_recorded(list.back(),
                         recorded_values(scenario, fmt::format("{}.{}", stage.name, entry.key), leave),
                         Dimension::turns, units);
        }
    }
    const auto further = further_entries(scenario);
    list.insert(list.end(), further.begin(), further.end());
    const auto gauge = [&](const std::string& item, double value) {
        list.push_back({fmt::format("{}, {}", item, scenarios::display_unit(Dimension::pressure, units)), "-",
                        gauge_text(value, units)});
    };
    const auto& steps = lesson.usual.steps;
    for (auto step = steps.begin(); step != steps.end(); ++step) {
        const auto task = step->id.task;
        const bool proof = task == Task::prove_low || task == Task::prove_middle || task == Task::prove_full;
        if (!proof || step->id.time > 1)
            continue;
        const auto at = fmt::format("at {}", format_quantity(step->flow, Dimension::flow, units));
        gauge("outlet gauge " + at, step->after.outlet);
        if (task != Task::prove_full)
            continue;
        gauge("flicker of the outlet " + at, step->flicker.outlet);
        gauge("inlet gauge " + at, step->after.inlet);
        gauge(fmt::format("cover gauge{} {}", of_which_main(scenario, step->id.stage), at),
              step->after.cover);
    }
    if (!steps.empty()) {
        gauge("outlet gauge at rest", steps.back().after.outlet);
        put_recorded(list.back(), {scenario.as_found.static_pressure, scenario.as_left.static_pressure},
                     Dimension::pressure, units);
    }
    return list;
}

/// What the station is.
std::vector<std::pair<std::string, std::string>> station_data(const Scenario& scenario) {
    const auto units = scenario.units;
    const auto show = [&](double value, Dimension dimension) {
        return format_quantity(value, dimension, units);
    };
    std::vector<std::pair<std::string, std::string>> rows;
    rows.emplace_back("Supply, static", show(scenario.supply.pressure, Dimension::pressure));
    if (const auto& strainer = scenario.supply.strainer)
        rows.emplace_back("Strainer", fmt::format("ahead of the {}, {:.3g} % of its meshes open",
                                                  in_two_steps(scenario.stages) ? "first step" : "station",
                                                  100 * strainer->open));
    for (const auto& stage : scenario.stages)
        rows.emplace_back(
            stage.name, fmt::format("{}{}, rated {}, set {}{}{}", stage.first_step ? "first step, " : "",
                                    scenarios::name_of(stage.hardware),
                                    show(scenarios::pressure_rating_of(stage.hardware), Dimension::pressure),
                                    set_pressure_text(stage, scenario.units),
                                    stage.sustaining_pressure
                                        ? fmt::format(", sustains {} ahead of it",
                                                      show(*stage.sustaining_pressure, Dimension::pressure))
                                        : "",
                                    stage.check_valve ? ", a check valve behind it" : ""));
    scenarios::visit_reliefs(
        scenario, [&](const scenarios::ReliefValve& relief, const scenarios::Branch* branch) {
            rows.emplace_back(
                relief.name,
                fmt::format("relief valve {}, set to {}, fully open at {}: see that it is free and that "
                            "what it lets out is led away safely",
                            relief_place(relief, branch), show(relief.set_pressure, Dimension::pressure),
                            show(relief.full_pressure(), Dimension::pressure)));
        });
    const auto flows = proof_flows(scenario);
    if (const auto shares = shares_text(scenario); !shares.empty())
        rows.emplace_back("Outlets", shares);
    rows.emplace_back("Flows to prove", flows.full > flows.low
                                            ? fmt::format("{}, {}, {}", show(flows.low, Dimension::flow),
                                                          show(flows.middle, Dimension::flow),
                                                          show(flows.full, Dimension::flow))
                                            : show(flows.full, Dimension::flow));
    if (const auto& liquid = scenario.liquid)
        rows.emplace_back("Liquid", fmt::format("{}, {}", show(liquid->density, Dimension::density),
                                                show(liquid->viscosity, Dimension::viscosity)));
    else
        rows.emplace_back("Water", show(scenario.water.temperature, Dimension::temperature));
    std::string limits;
    for (const auto& [what, bound] : scenarios::stated_limits(scenario.accept))
        limits += fmt::format("{}{} {}", limits.empty() ? "" : "; ", what.condition(),
                              show(bound, what.entry().dimension));
    rows.emplace_back("Limits", limits.empty() ? "none stated" : limits);
    return rows;
}

std::string outcome_text(const Lesson& lesson, const Scenario& scenario) {
    if (!lesson.usual.failure.empty())
        return "The simulated rehearsal ended early: " + lesson.usual.failure;
    const auto& steps = lesson.usual.steps;
    const bool sticks =
        std::ranges::any_of(steps, [](const RehearsalStep& step) { return step.stability.holds_stuck(); });
    std::string text = lesson.usual.accepted()
                           ? "The simulated rehearsal keeps every stated limit."
                           : "The simulated rehearsal does NOT keep every stated limit: see the steps.";
    if (sticks)
        text += " Some steps end with a stem with friction that the knock did not break loose: see there.";
    if (const auto left_out = not_rehearsed_text(scenario); !left_out.empty())
        text += " " + left_out;
    return text;
}

std::array<SheetGauge, 3> gauges_of(const ToldStep& step, scenarios::UnitSystem units) {
    const auto gauge = [&](const char* name, double Gauges::*of, const std::string& whose) -> SheetGauge {
        return {name, gauge_text(step.before.*of, units), gauge_text(step.after.*of, units),
                gauge_text(step.flicker.*of, units), whose};
    };
    return {gauge("Inlet", &Gauges::inlet, ""), gauge("Outlet", &Gauges::outlet, ""),
            gauge("Cover", &Gauges::cover, step.whose_cover)};
}

SheetStep step_of(const ToldStep& step, scenarios::UnitSystem units) {
    SheetStep sheet{.title = step.title,
                    .hands = step.hands,
                    .seen = step.seen,
                    .wait = step.wait,
                    .passing = step.passing,
                    .findings = step.findings,
                    .turns_show = {},
                    .turns = {},
                    .gauges = gauges_of(step, units),
                    .wrongs = {}};
    for (const auto& turn : step.turns) {
        sheet.turns_show = turn.id.task == Task::turn_sustaining_screw ? "inlet / outlet" : "outlet";
        const auto outlet = gauge_text(turn.after.outlet, units);
        sheet.turns.push_back({fmt::format("{:.2f}", turn.screw),
                               turn.id.task == Task::turn_sustaining_screw
                                   ? fmt::format("{} / {}", gauge_text(turn.after.inlet, units), outlet)
                                   : outlet});
    }
    for (const auto& slip : step.slips)
        sheet.wrongs.push_back({slip.what, fmt::format("{}", fmt::join(slip.looks, ". "))});
    return sheet;
}

} // namespace

SheetContent sheet_content(const Scenario& scenario, const Lesson& lesson) {
    const auto left = as_adjusted(scenario);
    auto cautions = std::vector<std::string>{usual_cautions.begin(), usual_cautions.end()};
    if (const auto own = caution_of_head(scenario); !own.empty())
        cautions.insert(cautions.begin() + 2, own);
    SheetContent sheet{.title = scenario.title,
                       .program = program_version(),
                       .pressure_unit =
                           std::string(scenarios::display_unit(Dimension::pressure, scenario.units)),
                       .cautions = std::move(cautions),
                       .warnings = warnings_of(scenario),
                       .station = station_data(left),
                       .outcome = outcome_text(lesson, scenario),
                       .records = {},
                       .record = record_heads(scenario),
                       .entries = entries(left, lesson),
                       .steps = {}};
    for (const auto& step : tell(lesson))
        sheet.steps.push_back(step_of(step, scenario.units));
    return sheet;
}

} // namespace needleturn
