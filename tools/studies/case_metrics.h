/// What a whole case of a sweep is said to have done: of each metric the worst of its events; and how much of its variance each
/// key answers for.
#pragma once

#include "scenarios/study.h"
#include "sim/cases_file.h"
#include "sim/sobol_indices.h"

#include <cstddef>
#include <string>
#include <vector>

namespace needleturn {

/// One number per case.
struct CaseMetric {
    std::string name;    ///< of its column
    std::string unit;    ///< UDUNITS
    std::string meaning; ///< of the column
    bool per_event = true;
    bool largest = true; ///< which of a case's events speaks for it
    std::vector<double>
        values; ///< in the order of the cases; NaN where an event says nothing, infinity as it is
};

/// Hunting, highest and lowest pressure, fall-off, settling; then the metrics that the study itself asks for, `own`. Columns
/// that the file does not have are left out.
std::vector<CaseMetric> case_metrics(const sim::CasesFile& file,
                                     const std::vector<scenarios::StudyMetric>& own);

/// Sobol indices of a metric over the rows of a plan "sensitivity".
struct KeyShares {
    std::size_t rows = 0, left_out = 0;  ///< used; left out because a case in them has no finite value
    std::vector<sim::SobolIndex> of_key; ///< empty: too few rows are left, or the metric does not vary
    bool varies = true;
};

/// `keys` are varied.
KeyShares key_shares(const std::vector<double>& values, std::size_t keys);

} // namespace needleturn
