#include "tools/commands/outlets_text.h"

#include "scenarios/connected.h"
#include "scenarios/limits.h"
#include "scenarios/units.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/outlets.h"
#include "tools/studies/own_changes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <string>
#include <vector>

namespace needleturn {

using scenarios::Demand;
using scenarios::Dimension;
using scenarios::format_quantity;
using scenarios::Scenario;

std::string outlet_place(const std::string& name) {
    return name == scenarios::far_end_outlet ? "at the far end" : "of " + name;
}

std::string shares_text(const Scenario& scenario) {
    if (scenario.downstream.branches.empty())
        return {};
    std::vector<std::string> run, shut;
    for (const auto& outlet : outlets_of(scenario))
        if (outlet.share > 0)
            run.push_back(fmt::format("{} {:.3g} %", outlet.name, 100 * outlet.share));
        else
            shut.push_back(outlet.name);
    return fmt::format("Of every flow the outlets draw: {}{}", fmt::join(run, ", "),
                       shut.empty() ? "; none stays shut" : fmt::format("; shut: {}", fmt::join(shut, ", ")));
}

std::string shares_line(const Scenario& scenario) {
    const auto text = shares_text(scenario);
    return text.empty() ? "" : text + " (others: --set running=NAME,NAME)\n";
}

std::string places_text(const Scenario& scenario, const std::vector<double>& shares) {
    std::vector<std::string> places;
    visit_shares(scenario, shares, [&](const std::string& name, const Demand&, double share) {
        if (share > 0)
            places.push_back(outlet_place(name));
    });
    return fmt::format("{}", fmt::join(places, " and "));
}

std::string laid_text(const Scenario& scenario, double flow, const std::vector<double>& shares) {
    std::vector<std::string> parts;
    visit_shares(scenario, shares, [&](const std::string& name, const Demand& demand, double share) {
        if (const double own = share * flow; own > 0)
            parts.push_back(fmt::format(
                "{} {} at {}", format_quantity(own, Dimension::flow, scenario.units), outlet_place(name),
                format_quantity(demand.at_pressure, Dimension::pressure, scenario.units)));
    });
    return fmt::format("{}", fmt::join(parts, ", "));
}

std::string names_in_step(const Scenario& scenario, bool first_step) {
    if (!in_two_steps(scenario.stages))
        return {};
    std::vector<std::string> names;
    for (const auto& stage : scenario.stages)
        if (stage.first_step == first_step)
            names.push_back(stage.name);
    return fmt::format("{}", fmt::join(names, " and "));
}

bool adjusts_more_than_turns(const Scenario& scenario) {
    return std::ranges::any_of(scenario.adjustments, [](const scenarios::Adjustment& adjustment) {
        return std::ranges::count(screws_and_needles, adjustment.what) == 0;
    });
}

std::string not_rehearsed_text(const Scenario& scenario) {
    std::vector<std::string> sentences;
    if (in_two_steps(scenario.stages))
        sentences.push_back(fmt::format(
            "The first step, {}, stands in it as it is to be left: filled, bled and set before, with "
            "the cocks of {} shut. Its own order is not rehearsed here.",
            names_in_step(scenario, true), names_in_step(scenario, false)));
    if (const double time = time_of_own_changes(scenario); time > longest_own_changes)
        sentences.push_back(fmt::format(
            "The changes that the scenario itself states take {}, longer than the {} that a rehearsal "
            "waits, and are not in it. What they do, the command run tells.",
            scenarios::format_quantity(time, Dimension::time, scenario.units),
            scenarios::format_quantity(longest_own_changes, Dimension::time, scenario.units)));
    if (adjusts_more_than_turns(scenario))
        sentences.emplace_back(
            "What the scenario does to cocks, bleeds and trapped air under [adjust] is not "
            "in it. What that does, the command run tells.");
    std::vector<std::string> following;
    scenarios::visit_demands(scenario, [&](const std::string& name, const Demand& demand) {
        if (demand.follows_course())
            following.push_back(scenarios::spoken_place(name));
    });
    if (!following.empty())
        sentences.push_back(
            fmt::format("The log or the draws of {} are not in it. What they do, the command run "
                        "tells.",
                        fmt::join(following, " and ")));
    return fmt::format("{}", fmt::join(sentences, " "));
}

} // namespace needleturn
