#include "tools/studies/fit_family.h"

#include "sim/sampling.h"

#include <Eigen/Cholesky>
#include <boost/math/distributions/normal.hpp>

#include <algorithm>
#include <limits>
#include <numeric>
#include <optional>
#include <utility>

namespace needleturn {

namespace {

using Eigen::Index;
using Places = std::vector<std::vector<double>>;

std::vector<Unknown> of_scenario(const Fitted& fitted) {
    std::vector<Unknown> unknowns;
    for (const auto& value : fitted.values)
        if (!value.unknown.of_gauge())
            unknowns.push_back(value.unknown);
    return unknowns;
}

Places drawn_before(std::size_t unknowns, std::size_t valves, std::uint64_t seed) {
    const sim::LatinHypercube hypercube(valves, seed);
    Places places(valves, std::vector<double>(unknowns));
    for (std::size_t valve = 0; valve < valves; ++valve)
        for (std::size_t k = 0; k < unknowns; ++k)
            places[valve][k] = hypercube(valve, k);
    return places;
}

Sweep sweep_of_drawn(const FitFamilyQuestion& question, const std::vector<Unknown>& unknowns, Places places) {
    using scenarios::Factor;
    scenarios::Study study;
    study.plan = scenarios::Study::Plan::drawn;
    study.rows = places.size();
    study.drawn = std::move(places);
    for (const auto& unknown : unknowns) {
        auto& factor = study.vary.emplace_back();
        factor.key = unknown.key;
        factor.dimension = unknown.dimension;
        factor.set_ends(exact_quantity(unknown.low, unknown.dimension),
                        exact_quantity(unknown.high, unknown.dimension));
        factor.spacing = unknown.low > 0 ? Factor::Spacing::log : Factor::Spacing::linear;
    }
    return sweep_of(std::move(study), question.file, question.scenario, {});
}

/// The rows of all cases, in the columns of a file.
sim::CasesFile in_columns(const Sweep& sweep, const std::vector<sim::CaseRows>& rows) {
    sim::CasesFile file;
    std::vector<double> numbers(rows.size());
    std::iota(numbers.begin(), numbers.end(), 0.0);
    file.axes = {{"case", "1", "number of the case, from 0", numbers}};
    file.events = sweep.events;
    const auto gather = [](const std::vector<sim::CasesColumn>& columns,
                           const std::vector<const sim::CasesRow*>& from) {
        sim::Table table;
        std::size_t number = 0, word = 0;
        for (const auto& column : columns) {
            const auto add = [&](auto values, auto of_row, std::size_t place) {
                for (const auto* row : from)
                    values.push_back((row->*of_row)[place]);
                table.push_back({column.name, column.unit, column.meaning, std::move(values)});
            };
            if (column.words)
                add(std::vector<std::string>(), &sim::CasesRow::words, word++);
            else
                add(std::vector<double>(), &sim::CasesRow::numbers, number++);
        }
        return table;
    };
    std::vector<const sim::CasesRow*> own, events;
    for (const auto& row : rows) {
        own.push_back(&row.self);
        for (const auto& event : row.events)
            events.push_back(&event);
    }
    file.per_case = gather(sweep.per_case, own);
    file.per_event = gather(sweep.per_event, events);
    return file;
}

FamilyVerdict judged(const FitFamilyQuestion& question, const Sweep& sweep) {
    std::vector<sim::CaseRows> rows(sweep.study.cases());
    const auto wanted = [&] { return !question.go_on || question.go_on(); };
    run_all_cases(
        sweep, question.threads,
        [&](std::size_t number, const sim::CaseRows& of_case) {
            rows[number] = of_case;
            if (question.one_more)
                question.one_more();
            return wanted();
        },
        wanted);
    return wanted() ? judge_family(in_columns(sweep, rows), sweep.study, sweep.base) : FamilyVerdict{};
}

} // namespace

Places drawn_after(const Fitted& fitted, std::size_t valves, std::uint64_t seed) {
    const auto unknowns = static_cast<Index>(of_scenario(fitted).size());
    const Eigen::MatrixXd covariance = fitted.estimate.covariance.topLeftCorner(unknowns, unknowns);
    const Eigen::MatrixXd root = covariance.llt().matrixL();
    const boost::math::normal normal;
    auto places = drawn_before(static_cast<std::size_t>(unknowns), valves, seed);
    for (auto& place : places) {
        Eigen::VectorXd z(unknowns);
        for (Index k = 0; k < unknowns; ++k)
            z[k] = boost::math::quantile(
                normal, std::max(place[static_cast<std::size_t>(k)], std::numeric_limits<double>::min()));
        z = fitted.estimate.x.head(unknowns) + root * z;
        for (Index k = 0; k < unknowns; ++k)
            place[static_cast<std::size_t>(k)] = boost::math::cdf(normal, z[k]);
    }
    return places;
}

void check_family(const FitFamilyQuestion& question, const std::vector<Unknown>& unknowns) {
    auto own = unknowns;
    std::erase_if(own, [](const Unknown& unknown) { return unknown.of_gauge(); });
    (void)sweep_of_drawn(question, own, {});
}

FitFamilies fit_families(const FitFamilyQuestion& question, const Fitted& fitted) {
    const auto unknowns = of_scenario(fitted);
    const auto judge = [&](Places places) {
        return judged(question, sweep_of_drawn(question, unknowns, std::move(places)));
    };
    FitFamilies families;
    families.before = judge(drawn_before(unknowns.size(), question.valves, question.seed));
    families.after = judge(drawn_after(fitted, question.valves, question.seed));
    return families;
}

} // namespace needleturn
