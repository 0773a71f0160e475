#include "sim/growth_watch.h"

#include "sim/instant.h"
#include "sim/modes.h"

#include <Eigen/Core>
#include <Eigen/SparseCore>

#include <algorithm>
#include <cmath>
#include <limits>

namespace needleturn::sim::growth {

double longest_faithful_step(const std::vector<Quantity>& states, const SparseLu& lu, const double* entries) {
    double longest = std::numeric_limits<double>::infinity();
    const auto jacobian = motion_of(states, lu, entries).jacobian;
    const Eigen::Map<const Eigen::VectorXd> values(jacobian.valuePtr(), jacobian.nonZeros());
    if (jacobian.rows() == 0 || !values.allFinite())
        return longest;
    // A mode that is too fast for short_step asks for no shorter step: the watch looks only after longer ones, so it would never
    // see that the mode is gone.
    for (const auto& mode : leading_modes(jacobian))
        if (mode.grows())
            longest = std::min(longest, std::max(short_step, faithful_step(std::abs(mode.eigenvalue))));
    return longest;
}

} // namespace needleturn::sim::growth
