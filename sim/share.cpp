#include "sim/share.h"

#include <boost/math/distributions/binomial.hpp>

#include <algorithm>

namespace needleturn::sim {

ShareInterval share_interval(std::size_t count, std::size_t all, double confidence) {
    using binomial = boost::math::binomial_distribution<double>;
    const auto n = static_cast<double>(all), k = static_cast<double>(count);
    const double chance = (1 - confidence) / 2;
    return {binomial::find_lower_bound_on_p(n, k, chance), binomial::find_upper_bound_on_p(n, k, chance)};
}

double sign_test(std::size_t one, std::size_t other) {
    const auto pairs = static_cast<double>(one + other);
    if (pairs == 0)
        return 1;
    const boost::math::binomial_distribution<double> alike(pairs, 0.5);
    return std::min(1.0, 2 * boost::math::cdf(alike, static_cast<double>(std::min(one, other))));
}

std::size_t draw_above(std::size_t all, double share, double confidence) {
    // The draws below the quantile are binomial: fewer than `rank` of them, and draw number `rank` lies above it.
    const boost::math::binomial_distribution<double> below(static_cast<double>(all), share);
    for (std::size_t rank = 1; rank <= all; ++rank)
        if (boost::math::cdf(below, static_cast<double>(rank - 1)) >= confidence)
            return rank;
    return 0;
}

} // namespace needleturn::sim
