#include "sim/share.h"

#include <boost/math/distributions/binomial.hpp>

namespace needleturn::sim {

ShareInterval share_interval(std::size_t count, std::size_t all, double confidence) {
    using binomial = boost::math::binomial_distribution<double>;
    const auto n = static_cast<double>(all), k = static_cast<double>(count);
    const double chance = (1 - confidence) / 2;
    return {binomial::find_lower_bound_on_p(n, k, chance), binomial::find_upper_bound_on_p(n, k, chance)};
}

} // namespace needleturn::sim
