#include "tools/studies/own_changes.h"

#include "scenarios/demands.h"

#include <algorithm>
#include <limits>
#include <string>
#include <vector>

namespace needleturn {

namespace {

struct Stretch {
    double begin = std::numeric_limits<double>::infinity(), end = 0;
};

Stretch stretch_of(const scenarios::Scenario& scenario) {
    Stretch all;
    const auto take = [&all](const std::vector<scenarios::Step>& steps) {
        for (const auto& step : steps) {
            all.begin = std::min(all.begin, step.at);
            all.end = std::max(all.end, step.at + step.over);
        }
    };
    take(scenario.supply.steps);
    if (scenario.supply.strainer)
        take(scenario.supply.strainer->steps);
    scenarios::visit_demands(scenario, [&](const std::string&, const scenarios::Demand& demand) {
        if (!demand.follows_course())
            take(demand.steps);
    });
    return all;
}

} // namespace

double time_of_own_changes(const scenarios::Scenario& scenario) {
    constexpr double jump = 1e-3;
    const auto all = stretch_of(scenario);
    return all.begin > all.end ? 0 : std::max(all.end - all.begin, jump);
}

bool makes_own_changes(const scenarios::Scenario& scenario) {
    const double time = time_of_own_changes(scenario);
    return time > 0 && time <= longest_own_changes;
}

double begin_of_own_changes(const scenarios::Scenario& scenario) {
    const auto all = stretch_of(scenario);
    return all.begin > all.end ? 0 : all.begin;
}

} // namespace needleturn
