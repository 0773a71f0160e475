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

} // namespace needleturn::sim
