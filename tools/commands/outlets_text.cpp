#include "tools/commands/outlets_text.h"

#include "scenarios/units.h"
#include "tools/studies/outlets.h"
#include "tools/studies/own_changes.h"

#include <fmt/format.h>

#include <cstddef>

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

std::string not_rehearsed_text(const Scenario& scenario) {
    const double time = time_of_own_changes(scenario);
    if (!(time > longest_own_changes))
        return "";
    return fmt::format(
        "The changes that the scenario itself states take {}, longer than the {} that a rehearsal "
        "waits, and are not in it. What they do, the command run tells.",
        scenarios::format_quantity(time, Dimension::time, scenario.units),
        scenarios::format_quantity(longest_own_changes, Dimension::time, scenario.units));
}

} // namespace needleturn
