#include "tools/studies/second_grid.h"

#include "scenarios/build.h"
#include "tools/studies/course.h"
#include "tools/studies/places.h"
#include "tools/studies/surge_bound.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <utility>

namespace needleturn {

namespace {

/// A limit on a highest or lowest pressure beside what it limits.
struct Judged {
    scenarios::StatedLimit limit;
    double height, spread;
    bool within_spread() const { return std::abs(height - limit.bound) <= spread; }
};

std::vector<Judged> judged_heights(const scenarios::Scenario& scenario, const SurgeVerdict& surge) {
    using scenarios::Limit;
    std::vector<Judged> heights;
    for (auto& stated : scenarios::stated_limits(scenario.accept)) {
        const auto limit = stated.what.limit;
        const bool high = limit == Limit::highest_outlet_pressure || limit == Limit::highest_there;
        if (!high && limit != Limit::lowest_outlet_pressure && limit != Limit::lowest_there)
            continue;
        const auto& outlet = stated.what.outlet;
        const auto point = std::ranges::find(
            surge.points, outlet.empty() ? "outlet" : point_of_outlet(scenario, outlet), &PointSurge::point);
        heights.push_back(high ? Judged{std::move(stated), point->highest, point->highest_spread}
                               : Judged{std::move(stated), point->lowest, point->lowest_spread});
    }
    return heights;
}

} // namespace

double height_spread(double fine, double coarse) { return 3 * std::abs(fine - coarse); }

std::optional<SecondGridReason> second_grid_reason(const scenarios::Scenario& scenario,
                                                   const Outcome& first) {
    if (!first.record.failure.empty())
        return std::nullopt;
    const auto finer = scenarios::build(scenario, 2).grids;
    if (std::ranges::none_of(finer, [](const auto& grid) { return grid.refinement > 1; }))
        return std::nullopt;
    if (std::ranges::any_of(first.surges, parts))
        return SecondGridReason{.parts = true};
    for (const auto& surge : first.surges)
        for (const auto& judged : judged_heights(scenario, surge))
            if (judged.within_spread())
                return SecondGridReason{.limit = judged.limit.what, .spread = judged.spread};
    return std::nullopt;
}

Outcome with_second_grid(const scenarios::Scenario& scenario, Outcome first, const Progress& progress,
                         const sim::StoreMaker& store) {
    auto second = simulate(scenario, scenarios::build(scenario, 2), progress, {}, store);
    if (!second.record.failure.empty()) {
        first.record.failure =
            fmt::format("the second run, with twice as many cells, ended early ({}): how far the heights "
                        "depend on the cells is not known",
                        second.record.failure);
        first.passed = false;
        return first;
    }
    for (std::size_t i = 0; i < second.surges.size(); ++i) {
        second.surges[i].grids = 2;
        for (std::size_t k = 0; k < second.surges[i].points.size(); ++k) {
            auto& point = second.surges[i].points[k];
            const auto& coarse = first.surges.at(i).points.at(k);
            point.highest_spread = height_spread(point.highest, coarse.highest);
            point.lowest_spread = height_spread(point.lowest, coarse.lowest);
        }
    }
    second.record.surge = surge_table(second.surges);
    return second;
}

void mark_undecided(const scenarios::Scenario& scenario, Outcome& outcome) {
    bool open = false;
    for (std::size_t i = 0; i < outcome.surges.size(); ++i)
        for (const auto& judged : judged_heights(scenario, outcome.surges[i]))
            if (judged.within_spread()) {
                open = true;
                auto& findings = outcome.verdict.at(i).findings;
                // What one grid calls broken is not known to be.
                std::erase_if(findings, [&](const Finding& finding) {
                    return finding.limit == judged.limit.what.limit
                           && finding.place == judged.limit.what.outlet
                           && finding.reason == Finding::Reason::beyond
                           && std::abs(finding.value - finding.bound) <= judged.spread;
                });
                findings.push_back({.limit = judged.limit.what.limit,
                                    .reason = Finding::Reason::cells,
                                    .undecided = true,
                                    .value = judged.height,
                                    .bound = judged.limit.bound,
                                    .doubt = judged.spread,
                                    .place = judged.limit.what.outlet});
            }
    if (open) {
        outcome.passed = false;
        outcome.record.verdict = verdict_table(outcome.verdict, scenario.accept);
        add_course(outcome.record.verdict, outcome.verdict);
    }
}

Outcome on_enough_grids(const scenarios::Scenario& scenario, Outcome first,
                        const std::function<Progress(const SecondGridReason& reason)>& again,
                        const sim::StoreMaker& store) {
    if (const auto reason = second_grid_reason(scenario, first))
        first = with_second_grid(scenario, std::move(first), again ? again(*reason) : Progress{}, store);
    mark_undecided(scenario, first);
    return first;
}

} // namespace needleturn
