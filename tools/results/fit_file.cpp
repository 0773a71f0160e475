#include "tools/results/fit_file.h"

#include "scenarios/in_both_systems.h"
#include "scenarios/limits.h"
#include "scenarios/read_scenario.h"
#include "sim/cases_file.h"
#include "sim/share.h"
#include "tools/results/fit_tables.h"
#include "tools/results/kinds.h"
#include "tools/results/scenario_told.h"
#include "tools/results/told_texts.h"
#include "tools/studies/verdict.h"

#include <algorithm>
#include <array>
#include <iterator>
#include <tuple>
#include <utility>
#include <vector>

namespace needleturn {
namespace {

using Numbers = std::vector<double>;
using Words = std::vector<std::string>;

constexpr const char* of_row = ", in the unit of its row";

/// A column of one figure of each member of `list`.
template <class List, class Figure> sim::Column column(const std::string& name, const char* unit,
                                                       const std::string& meaning, const List& list,
                                                       const Figure& figure) {
    Numbers numbers;
    for (const auto& member : list)
        numbers.push_back(static_cast<double>(figure(member)));
    return {name, unit, meaning, std::move(numbers)};
}

sim::NamedTable family_table(const FitFamilies& families) {
    const std::array both{families.before, families.after};
    sim::Table table{{"when", "", "valves within the ranges before the fit, or within what it leaves",
                      Words{"before", "after"}},
                     column("valves", "1", "that were drawn", both,
                            [](const FamilyVerdict& family) { return family.valves; })};
    constexpr std::array<std::tuple<const char*, std::size_t FamilyVerdict::*, const char*>, 5> counts{
        {{"kept", &FamilyVerdict::kept, "valves that keep every limit"},
         {"broken", &FamilyVerdict::broken, "valves that break one"},
         {"undecided", &FamilyVerdict::undecided, "valves of which it is not known"},
         {"failed", &FamilyVerdict::failed, "valves that could not be run to their end"},
         {"hunting", &FamilyVerdict::hunting, "valves that hunt, or would once disturbed"}}};
    for (const auto& [name, count, meaning] : counts) {
        const auto bounds = [member = count](const FamilyVerdict& family) {
            return sim::share_interval(family.*member, family.valves, share_confidence);
        };
        table.push_back(column(name, "1", meaning, both,
                               [member = count](const FamilyVerdict& family) { return family.*member; }));
        table.push_back(column(std::string(name) + "_low", "1",
                               std::string("lower bound of the share: ") + meaning, both,
                               [&](const FamilyVerdict& family) { return bounds(family).low; }));
        table.push_back(column(std::string(name) + "_high", "1",
                               std::string("upper bound of the share: ") + meaning, both,
                               [&](const FamilyVerdict& family) { return bounds(family).high; }));
    }
    return {"family", std::move(table)};
}

/// Rows: a limit before, the same after, the next before ...
sim::NamedTable limits_table(const FitStory& story) {
    Numbers number, bound, broken, told, at_5, at_50, at_95;
    Words key, when, unit;
    for (std::size_t i = 0; i < story.families.before.limits.size(); ++i)
        for (const auto* family : {&story.families.before, &story.families.after}) {
            const auto& limit = family->limits[i];
            number.push_back(static_cast<double>(number.size() + 1));
            key.push_back(limit.limit.key());
            when.emplace_back(family == &story.families.before ? "before" : "after");
            unit.emplace_back(scenarios::udunits(limit.limit.entry().dimension));
            bound.push_back(limit.bound);
            broken.push_back(static_cast<double>(limit.broken));
            told.push_back(static_cast<double>(limit.told));
            at_5.push_back(limit.at_5);
            at_50.push_back(limit.at_50);
            at_95.push_back(limit.at_95);
        }
    const auto quantile = [&](const char* name, const char* share, Numbers& rows) {
        return sim::Column{name, "1",
                           std::string("figure of the worst event that ") + share + " of the valves lie below"
                               + of_row,
                           std::move(rows)};
    };
    return {"family_limit",
            {{"row", "1", "number, from 1", std::move(number)},
             {"limit", "", "key under [accept]", std::move(key)},
             {"when", "", "before or after the fit", std::move(when)},
             {"unit", "", "of bound and figures", std::move(unit)},
             {"bound", "1", std::string("the limit") + of_row, std::move(bound)},
             {"broken", "1", "valves that break it", std::move(broken)},
             {"known", "1", "valves of which the figure is known", std::move(told)},
             quantile("at_5", "5 %", at_5),
             quantile("at_50", "half", at_50),
             quantile("at_95", "95 %", at_95)}};
}

} // namespace

void write_fit(const std::filesystem::path& path, const FitStory& story) {
    const auto& fitted = story.fitted;
    Words keys;
    for (const auto& value : fitted.values)
        keys.push_back(value.unknown.key);
    sim::CasesLayout layout;
    layout.attributes = scenario_attributes(story.found);
    layout.attributes.insert(layout.attributes.end(),
                             {{"kind", fit_kind},
                              {"outcome", fitted.explained() ? "explained" : "not explained"},
                              {"fitted_scenario", scenarios::resolved(story.question.file.read())},
                              {"scenario_file", story.scenario_file},
                              {"trace_file", story.trace_file},
                              {"summary", story.summary}});
    layout.axes = {{"unknown", "", "key, as --set spells it, or a property of a gauge", std::move(keys)}};
    layout.per_case = columns_of_values();
    layout.tables = fit_tables(story.question, fitted, story.seed);
    layout.tables.push_back(family_table(story.families));
    if (!story.families.before.limits.empty())
        layout.tables.push_back(limits_table(story));
    layout.tables.push_back(told_events(story.found));
    std::ranges::move(scenario_tables(story.found), std::back_inserter(layout.tables));
    sim::write_cases(path, layout, [&](std::size_t number) {
        return sim::CaseRows{row_of(fitted.values[number]), {}};
    });
}

} // namespace needleturn
