#include "tools/commands/outlets_text.h"

#include "scenarios/units.h"
#include "tools/studies/outlets.h"

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
    bool demand = false;
    scenarios::visit_demands(scenario, [&](const std::string&, const scenarios::Demand& of) {
        demand = demand || !of.steps.empty();
    });
    const bool supply = !scenario.supply.steps.empty();
    if (!demand && !supply)
        return "";
    return fmt::format(
        "The scenario's own changes of {} are not in it, for here hands open and shut outlets as the "
        "steps say. What those changes do, the command run tells.",
        demand && supply ? "demand and supply"
        : demand         ? "demand"
                         : "supply");
}

} // namespace needleturn
