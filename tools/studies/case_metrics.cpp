#include "tools/studies/case_metrics.h"

#include "scenarios/limits.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <variant>

namespace needleturn {

namespace {

double nan_or(double value, double other) { return std::isnan(value) ? other : value; }

/// The worst event of each case; NaN where one says nothing, or, if it need not (`not_always`), where none does.
std::vector<double> worst_of_cases(const std::vector<double>& rows, std::size_t events, bool largest,
                                   bool not_always) {
    std::vector<double> worst;
    for (std::size_t begin = 0; begin + events <= rows.size(); begin += events) {
        double value = rows[begin];
        for (std::size_t i = begin; i < begin + events; ++i)
            value = std::isnan(rows[i]) || std::isnan(value)
                        ? (not_always ? nan_or(value, rows[i]) : std::numeric_limits<double>::quiet_NaN())
                    : largest ? std::max(value, rows[i])
                              : std::min(value, rows[i]);
        worst.push_back(value);
    }
    return worst;
}

} // namespace

std::vector<CaseMetric> case_metrics(const sim::CasesFile& file,
                                     const std::vector<scenarios::StudyMetric>& own) {
    std::vector<CaseMetric> metrics;
    const auto add = [&](const std::string& name, bool largest, bool not_always = false) {
        const auto* per_event = sim::column_of(file.per_event, name);
        const auto* column = per_event != nullptr ? per_event : sim::column_of(file.per_case, name);
        const auto* rows = column == nullptr ? nullptr : std::get_if<std::vector<double>>(&column->rows);
        if (rows != nullptr)
            metrics.push_back(
                {name, column->unit, column->meaning, per_event != nullptr, largest,
                 per_event != nullptr ? worst_of_cases(*rows, file.events, largest, not_always) : *rows});
    };
    add(scenarios::entry_of(scenarios::Limit::hunting).metric, true);
    add("hunting_peak_to_peak", true);
    for (const auto& limit : scenarios::acceptance_limits)
        if (limit.limit != scenarios::Limit::hunting && limit.of != scenarios::LimitOf::each_outlet)
            add(limit.metric, !limit.at_least, limit.not_always);
    for (const auto& column : file.per_event)
        if (const auto limit = scenarios::limit_of_column(column.name); limit && !limit->outlet.empty())
            add(column.name, !limit->entry().at_least);
    for (const auto& metric : own)
        add(metric.name, true);
    return metrics;
}

KeyShares key_shares(const std::vector<double>& values, std::size_t keys) {
    KeyShares shares;
    std::vector<double> a, b;
    std::vector<std::vector<double>> ab(keys);
    const std::size_t of_row = keys + 2;
    for (std::size_t begin = 0; begin + of_row <= values.size(); begin += of_row) {
        const auto row = values.begin() + static_cast<std::ptrdiff_t>(begin);
        if (!std::all_of(row, row + static_cast<std::ptrdiff_t>(of_row),
                         [](double x) { return std::isfinite(x); })) {
            ++shares.left_out;
            continue;
        }
        a.push_back(row[0]);
        b.push_back(row[1]);
        for (std::size_t i = 0; i < keys; ++i)
            ab[i].push_back(row[static_cast<std::ptrdiff_t>(2 + i)]);
    }
    shares.rows = a.size();
    if (a.size() < 2)
        return shares;
    const auto [low, high] = std::minmax_element(a.begin(), a.end());
    shares.varies = *low != *high;
    if (shares.varies)
        shares.of_key = sim::sobol_indices(a, b, ab);
    return shares;
}

} // namespace needleturn
