#include "sim/growth_watch.h"

#include "sim/modes.h"

#include <Eigen/Core>
#include <Eigen/SparseCore>

namespace needleturn::sim::growth {

double longest_faithful_step(const std::vector<Quantity>& states, const SparseLu& lu, const double* entries) {
    std::vector<Eigen::Index> place(states.size(), -1);
    Eigen::Index n = 0;
    for (std::size_t i = 0; i < states.size(); ++i)
        if (states[i].role == Role::dynamic)
            place[i] = n++;
    std::vector<Eigen::Triplet<double>> scaled;
    for (const auto& [entry, at] : lu.positions()) {
        const auto [row, column] = entry;
        if (place[row] < 0 || place[column] < 0 || entries[at] == 0)
            continue;
        if (!std::isfinite(entries[at]))
            return std::numeric_limits<double>::infinity();
        scaled.emplace_back(place[row], place[column],
                            entries[at] * (states[column].typical / states[row].typical));
    }
    Eigen::SparseMatrix<double> jacobian(n, n);
    jacobian.setFromTriplets(scaled.begin(), scaled.end());
    double longest = std::numeric_limits<double>::infinity();
    if (n == 0)
        return longest;
    for (const auto& mode : leading_modes(jacobian))
        if (mode.grows())
            longest = std::min(longest, faithful / std::abs(mode.eigenvalue));
    return longest;
}

} // namespace needleturn::sim::growth
