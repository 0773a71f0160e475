#include "tools/results/window_file.h"

#include "scenarios/in_both_systems.h"
#include "scenarios/limits.h"
#include "scenarios/read_scenario.h"
#include "scenarios/study.h"
#include "scenarios/units.h"
#include "sim/cases_file.h"
#include "tools/results/kinds.h"
#include "tools/results/scenario_told.h"
#include "tools/results/told_texts.h"
#include "tools/studies/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>
#include <map>
#include <optional>
#include <utility>
#include <vector>

namespace needleturn {
namespace {

using scenarios::InBothSystems;
using scenarios::Scenario;

/// The changes that a condition names: "main.air_in_cover=40 mL, supply.pressure=7 bar".
std::vector<scenarios::Override> changes_in(const std::string& condition) {
    std::vector<scenarios::Override> changes;
    for (std::size_t begin = 0; begin < condition.size();) {
        const auto end = std::min(condition.find(", ", begin), condition.size());
        changes.push_back({condition.substr(begin, end - begin)});
        begin = end + 2;
    }
    return changes;
}

/// Such changes with quantities of this system; a value stays as it was typed where that is one of the system already.
std::string condition_in(const std::string& condition, scenarios::UnitSystem system) {
    std::string text;
    for (const auto& change : changes_in(condition)) {
        const auto equals = std::min(change.text.find('='), change.text.size() - 1);
        auto value = change.text.substr(equals + 1);
        if (const auto dimension = scenarios::common_dimension({value})) {
            const auto si = scenarios::display_unit(*dimension, scenarios::UnitSystem::si);
            const auto us = scenarios::display_unit(*dimension, scenarios::UnitSystem::us);
            const auto& unit = system == scenarios::UnitSystem::si ? si : us;
            if (si != us && !value.ends_with(fmt::format(" {}", unit)))
                value = scenarios::format_quantity(scenarios::parse_quantity(value, *dimension), *dimension,
                                                   system);
        }
        text += fmt::format("{}{}={}", text.empty() ? "" : ", ", change.text.substr(0, equals), value);
    }
    return text;
}

InBothSystems condition_in_both(const std::string& condition) {
    return {condition_in(condition, scenarios::UnitSystem::si),
            condition_in(condition, scenarios::UnitSystem::us)};
}

/// Names of the events of the scenario under changes, in both systems of units.
class EventNames {
  public:
    explicit EventNames(const Scenario& scenario) : scenario_{scenarios::resolved(scenario)} {}

    const InBothSystems& in_both(const std::string& name, const std::string& condition) {
        auto known = names_.find(condition);
        if (known == names_.end())
            known = names_.emplace(condition, names_under(condition)).first;
        return known->second.try_emplace(name, InBothSystems{name, name}).first->second;
    }

  private:
    std::map<std::string, InBothSystems> names_under(const std::string& condition) const {
        const auto scenario = scenarios::parse_scenario(scenario_, "window", changes_in(condition));
        const auto own = names_of_events(scenario);
        const auto both = scenarios::in_both_systems(scenario, names_of_events);
        std::map<std::string, InBothSystems> names;
        for (std::size_t i = 0; i < own.size(); ++i)
            names.emplace(own[i], both[i]);
        return names;
    }

    std::string scenario_;
    std::map<std::string, std::map<std::string, InBothSystems>> names_;
};

constexpr const char* condition_meaning = "changes to the scenario that brought it";
constexpr const char* event_meaning = "the event in which it is not kept";

/// How near the recommended setting comes to each limit.
sim::NamedTable margins_table(const TurnWindow& window) {
    std::vector<std::string> limits, conditions;
    std::vector<double> fractions, values, bounds;
    std::vector<InBothSystems> in_both;
    for (const auto& margin : window.margins) {
        limits.push_back(margin.limit.key());
        fractions.push_back(margin.fraction);
        values.push_back(margin.value);
        bounds.push_back(margin.bound);
        conditions.push_back(margin.condition);
        in_both.push_back(condition_in_both(margin.condition));
    }
    sim::Table table{
        {"limit", "", "key of the limit", limits},
        {"left", "1", "fraction of the limit that is left; negative: broken", fractions},
        {"worst", "1", "what is limited, in Pa or s, in the worst event; not finite: not reached", values},
        {"bound", "1", "the limit, in Pa or s", bounds},
        {"condition", "", condition_meaning, conditions}};
    add_in_both_systems(table, "condition", condition_meaning, in_both);
    return {"margins", std::move(table)};
}

/// Why the recommended setting is that one; without rows where no setting is good.
sim::NamedTable choice_table(const WindowQuestion& question, const std::optional<Choice>& choice) {
    std::vector<std::string> roles;
    std::vector<Candidate> candidates;
    const auto add = [&](const char* role, const Candidate& candidate) {
        roles.emplace_back(role);
        candidates.push_back(candidate);
    };
    if (choice) {
        add("recommended", choice->recommended);
        if (choice->more_left)
            add("more left", *choice->more_left);
        if (choice->more_room)
            add("more room", *choice->more_room);
    }
    const auto column = [&](const std::string& name, const char* meaning, auto number) {
        std::vector<double> rows;
        for (const auto& candidate : candidates)
            rows.push_back(static_cast<double>(number(candidate)));
        return sim::Column{name, "1", meaning, rows};
    };
    sim::Table table{{"role", "", "the setting that is recommended, or one with more of what counts", roles}};
    for (std::size_t i = 0; i < question.needles.size(); ++i)
        table.push_back(
            column(question.needles[i], "turns from seated", [i](const auto& of) { return of.turns[i]; }));
    table.push_back(
        column("left", "least fraction of a limit that is left", [](const auto& of) { return of.left; }));
    table.push_back(column("kept", "settings one coarse step of one needle away that keep every limit",
                           [](const auto& of) { return of.kept; }));
    table.push_back(column("beside", "settings one coarse step of one needle away",
                           [](const auto& of) { return of.beside; }));
    table.push_back(column("good", "settings of the coarse grid that keep every limit",
                           [&](const auto&) { return choice->good; }));
    table.push_back(column("grid", "settings of the coarse grid", [&](const auto&) { return choice->grid; }));
    return {"choice", std::move(table)};
}

/// Columns of words NAME, NAME.si and NAME.us.
void add_texts(std::vector<sim::CasesColumn>& columns, const std::string& name, const std::string& meaning) {
    columns.push_back({name, "", meaning, true});
    columns.push_back({name + in_si, "", meaning + ", quantities in SI units", true});
    columns.push_back({name + in_us, "", meaning + ", quantities in US units", true});
}

std::vector<sim::CasesColumn> columns_of(const WindowQuestion& question) {
    std::vector<sim::CasesColumn> columns;
    for (const auto& needle : question.needles)
        columns.push_back({needle, "1", "turns from seated", false, true});
    columns.insert(columns.end(),
                   {{"margin", "1", "least fraction of a limit that is left; negative: broken"},
                    {"passed", "1", "1: every limit is kept; 0: not"},
                    {"recommended", "1", "1: the setting that is recommended"},
                    {"value", "1", "what is limited, in Pa or s; NaN: not known, or every limit is kept"},
                    {"bound", "1", "the limit, in Pa or s; NaN: every limit is kept"},
                    {"doubt", "1", "s in which small motions double, or Pa that the cells leave open"},
                    {"broken", "", "the limit that is not kept first, key and reason; empty: none", true},
                    {"undecided", "", "the limit first found undecided, key and reason; empty: none", true}});
    add_texts(columns, "in_event", event_meaning);
    add_texts(columns, "condition", condition_meaning);
    columns.push_back({"failure", "", "when and why a run ended early; empty: none did", true});
    return columns;
}

sim::CasesRow row_of(const Tried& tried, bool recommended, EventNames& names) {
    const auto breach = tried.breach.value_or(Breach{});
    const bool finds = tried.breach && breach.failure.empty();
    const auto known = [&](double figure) { return finds ? figure : std::nan(""); };
    std::vector<Finding> findings;
    if (finds)
        findings.push_back(breach.finding);
    const auto event = breach.event.empty() ? InBothSystems{} : names.in_both(breach.event, breach.condition);
    const auto condition = condition_in_both(breach.condition);
    sim::CasesRow row{tried.turns,
                      {in_file(findings, false), in_file(findings, true), breach.event, event.si, event.us,
                       breach.condition, condition.si, condition.us, breach.failure}};
    row.numbers.insert(row.numbers.end(), {tried.margin, tried.breach ? 0.0 : 1.0, recommended ? 1.0 : 0.0,
                                           known(breach.finding.value), known(breach.finding.bound),
                                           known(breach.finding.doubt)});
    return row;
}

} // namespace

void write_window(const std::filesystem::path& path, const Scenario& scenario, const WindowQuestion& question,
                  const TurnWindow& window, const std::string& summary) {
    std::string over;
    for (const auto& range : question.over)
        over += fmt::format("{} {} to {}\n", range.key, range.low, range.high);
    sim::CasesLayout layout;
    layout.attributes = scenario_attributes(scenario);
    layout.attributes.insert(layout.attributes.end(),
                             {{"kind", window_kind}, {"over", over}, {"summary", summary}});
    layout.numbered = window.tried.size();
    layout.per_case = columns_of(question);
    layout.tables = {margins_table(window), choice_table(question, window.choice)};
    std::ranges::move(scenario_tables(scenario), std::back_inserter(layout.tables));
    EventNames names(scenario);
    sim::write_cases(path, layout, [&](std::size_t number) {
        const auto& tried = window.tried[number];
        return sim::CaseRows{row_of(tried, tried.turns == window.recommended, names), {}};
    });
}

} // namespace needleturn
