#include "sim/growth_watch.h"

#include "sim/modes.h"

#include <Eigen/Core>
#include <Eigen/Eigenvalues>

#include <complex>

namespace needleturn::sim::growth {

double longest_faithful_step(const std::vector<Quantity>& states, const SparseLu& lu, const double* entries) {
    std::vector<Eigen::Index> place(states.size(), -1);
    Eigen::Index n = 0;
    for (std::size_t i = 0; i < states.size(); ++i)
        if (states[i].role == Role::dynamic)
            place[i] = n++;
    Eigen::MatrixXd jacobian = Eigen::MatrixXd::Zero(n, n);
    for (const auto& [entry, at] : lu.positions()) {
        const auto [row, column] = entry;
        if (place[row] >= 0 && place[column] >= 0)
            jacobian(place[row], place[column]) =
                entries[at] * (states[column].typical / states[row].typical);
    }
    double longest = std::numeric_limits<double>::infinity();
    if (!jacobian.allFinite())
        return longest;
    for (const std::complex<double>& value : jacobian.eigenvalues())
        if (value.real() > (value.imag() != 0 ? 0 : Mode::rest))
            longest = std::min(longest, faithful / std::abs(value));
    return longest;
}

} // namespace needleturn::sim::growth
