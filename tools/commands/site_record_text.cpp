#include "tools/commands/site_record_text.h"

#include "scenarios/controls.h"
#include "scenarios/limits.h"
#include "scenarios/read_scenario.h"
#include "sim/spool.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/rehearse.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/second_grid.h"

#include <fmt/format.h>

#include <algorithm>
#include <exception>
#include <filesystem>
#include <functional>
#include <memory>
#include <string_view>
#include <utility>

namespace needleturn {

using scenarios::Control;
using scenarios::Dimension;
using scenarios::NamedRecord;
using scenarios::Scenario;
using scenarios::SiteRecord;
using scenarios::UnitSystem;

namespace {

/// "As found on 2026-03-01"
std::string capital(std::string text) {
    if (!text.empty() && text.front() >= 'a' && text.front() <= 'z')
        text.front() = static_cast<char>(text.front() - 'a' + 'A');
    return text;
}

/// What somebody who comes later will miss.
std::vector<std::string> missing_in(const Scenario& scenario, const SiteRecord& record) {
    std::vector<std::string> missing;
    if (record.date.empty())
        missing.emplace_back("the date");
    for (const auto control : screws_and_needles) {
        const auto& entry = scenarios::entry_of(control);
        for (const auto& stage : scenario.stages)
            if (entry.absence(stage).empty() && !record.setting(fmt::format("{}.{}", stage.name, entry.key)))
                missing.push_back(fmt::format("{} of {}", entry.label, stage.name));
    }
    if (!record.static_pressure)
        missing.emplace_back("outlet gauge at rest");
    if (!record.flowing_pressure)
        missing.emplace_back("outlet gauge with water flowing");
    else if (!record.flow)
        missing.emplace_back("the flow then");
    return missing;
}

/// "keeps every stated limit"
std::string outcome_of(const Scenario& scenario, const Outcome& outcome) {
    if (!outcome.record.failure.empty())
        return "ends early: " + outcome.record.failure;
    std::vector<std::string> texts;
    std::size_t broken = 0, undecided = 0;
    for (const auto& event : outcome.verdict) {
        broken += event.breaks() ? 1 : 0;
        undecided += event.is_undecided() ? 1 : 0;
        if (!event.passed())
            texts.push_back(fmt::format("{} (at {:.4g} s): {}", event.event.what, event.event.at,
                                        fmt::join(finding_texts(event.findings, scenario.units), "; ")));
    }
    if (broken > 0)
        return fmt::format("does NOT keep every stated limit, {} of {} events break one: {}", broken,
                           outcome.verdict.size(), fmt::join(texts, "; "));
    if (undecided > 0)
        return fmt::format("is UNDECIDED: {}", fmt::join(texts, "; "));
    return scenarios::states_a_limit(scenario.accept) ? "keeps every stated limit"
                                                      : "is not judged: no limit is stated";
}

/// The run that `run --set as=...` makes.
std::string run_of(const Scenario& scenario, const Progress& progress) {
    const auto store = [](std::size_t signals) -> std::shared_ptr<sim::SampleStore> {
        return std::make_shared<sim::Spool>(std::filesystem::temp_directory_path(), signals);
    };
    try {
        auto outcome = simulate(scenario, progress, Signals::all, store);
        outcome = on_enough_grids(
            scenario, std::move(outcome), [&](const SecondGridReason&) { return progress; }, store);
        return outcome_of(scenario, outcome);
    } catch (const std::exception& error) {
        return fmt::format("cannot be run: {}", error.what());
    }
}

std::string shown(double si, Dimension dimension, UnitSystem units) {
    if (dimension == Dimension::pressure)
        return gauge_text(si, units);
    return fmt::format("{:.2f}", scenarios::in_display_unit(si, dimension, units));
}

bool recorded(const Scenario& scenario, const std::string& control) {
    return scenario.as_found.setting(control) || scenario.as_left.setting(control);
}

/// Something of what set_as sets is recorded as found alone.
bool leans_on_found(const Scenario& scenario, const SiteRecord& record) {
    return &record == &scenario.as_left
           && std::ranges::any_of(scenario.as_found.settings, [&](const SiteRecord::Setting& setting) {
                  return !record.setting(setting.control);
              });
}

/// "main: air in the cover, mL"
std::string item_of(const Scenario& scenario, const scenarios::PlacedControl& control) {
    const auto& entry = control.entry();
    const auto unit = entry.dimension == Dimension::ratio
                          ? std::string("share open")
                          : std::string(scenarios::display_unit(entry.dimension, scenario.units));
    if (entry.control == Control::supply)
        return fmt::format("supply, static, {}", unit);
    if (entry.control == Control::strainer)
        return fmt::format("strainer: {}", unit);
    if (!entry.of_stage())
        return fmt::format("{}, flow wanted, {}", control.name, unit);
    const auto* const label = entry.control == Control::set_pressure ? "set pressure" : entry.label;
    return fmt::format("{}: {}, {}", scenario.stages[control.index].name, label, unit);
}

} // namespace

std::vector<std::string> record_sentences(const Scenario& scenario, const Progress& progress) {
    std::vector<std::string> sentences;
    const auto records = scenarios::records_of(scenario);
    if (std::ranges::all_of(records, [](const NamedRecord& each) { return each.record->empty(); }))
        return sentences;
    for (const auto& each : records) {
        if (each.record->empty()) {
            sentences.push_back(fmt::format("{}: nothing is recorded.", capital(each.name)));
            continue;
        }
        auto text = capital(each.title());
        if (!each.record->remark.empty())
            text += ": " + each.record->remark;
        if (const auto missing = missing_in(scenario, *each.record); !missing.empty())
            text += fmt::format(". Not recorded: {}", fmt::join(missing, ", "));
        if (!each.record->settings.empty())
            text += fmt::format(". With these settings, all else as {}the scenario states it, the simulated "
                                "station {}",
                                leans_on_found(scenario, *each.record) ? "it was found or as " : "",
                                run_of(set_as(scenario, *each.record), progress));
        sentences.push_back(text + ".");
    }
    if (const auto last = scenarios::last_record(scenario))
        sentences.push_back(fmt::format(
            "The steps below begin with screws and needles {}{}.", last->title(),
            leans_on_found(scenario, *last->record) ? "; those that are not recorded then, as found" : ""));
    return sentences;
}

std::optional<SheetRecordHeads> record_heads(const Scenario& scenario) {
    const auto [found, left] = scenarios::records_of(scenario);
    if (found.record->empty() && left.record->empty())
        return {};
    const auto head = [](const NamedRecord& each) {
        return each.record->empty() ? fmt::format("{}: nothing recorded", capital(each.name))
                                    : capital(each.title());
    };
    return SheetRecordHeads{head(found), head(left),
                            left.record->empty() ? "from as found to leave at" : "from as found to as left"};
}

RecordedValues recorded_values(const Scenario& scenario, const std::string& control, double leave) {
    return {scenario.as_found.setting(control), scenario.as_left.setting(control),
            scenario.as_left.empty() ? std::optional(leave) : std::nullopt};
}

void put_recorded(SheetEntry& entry, const RecordedValues& values, Dimension dimension, UnitSystem units,
                  bool screw) {
    if (values.found)
        entry.found = shown(*values.found, dimension, units);
    if (values.left)
        entry.left = shown(*values.left, dimension, units);
    const auto to = values.left ? values.left : values.wanted;
    if (values.found && to)
        entry.change = scenarios::change_text(*values.found, *to, dimension, units, screw);
}

std::vector<SheetEntry> further_entries(const Scenario& wanted) {
    std::vector<SheetEntry> entries;
    const auto& found = wanted.as_found;
    const auto& left = wanted.as_left;
    for (const auto& control : controls_of(wanted)) {
        if (!recorded(wanted, control.name) || control.control == Control::opening_control
            || control.control == Control::closing_control)
            continue;
        const auto dimension = control.entry().dimension;
        const double leave = start_of(wanted, control);
        auto& entry = entries.emplace_back(SheetEntry{
            .item = item_of(wanted, control), .start = "-", .leave = shown(leave, dimension, wanted.units)});
        put_recorded(entry, recorded_values(wanted, control.name, leave), dimension, wanted.units);
    }
    const auto reading = [&](const char* item, std::optional<double> SiteRecord::*of, Dimension dimension) {
        if (!(found.*of) && !(left.*of))
            return;
        auto& entry = entries.emplace_back(
            SheetEntry{.item = fmt::format("{}, {}", item, scenarios::display_unit(dimension, wanted.units)),
                       .start = "-",
                       .leave = "-"});
        put_recorded(entry, {found.*of, left.*of}, dimension, wanted.units);
    };
    reading("outlet gauge flowing, recorded", &SiteRecord::flowing_pressure, Dimension::pressure);
    reading("flow then", &SiteRecord::flow, Dimension::flow);
    return entries;
}

std::string stood_as_text(const std::string& scenario) {
    try {
        const auto text = stands_as_text(scenarios::parse_scenario(scenario, "results"));
        return text.empty() ? "" : fmt::format("{}.", capital(text.substr(std::string_view("; ").size())));
    } catch (const scenarios::ScenarioError&) {
        return "";
    }
}

std::string stands_as_text(const Scenario& scenario) {
    std::string text;
    for (const auto& each : scenarios::records_of(scenario))
        if (stands_as(scenario, *each.record))
            text += fmt::format("; set {}", each.title());
    return text;
}

} // namespace needleturn
