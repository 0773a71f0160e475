/// Where a parameter turns a steady state unsteady.
#pragma once

#include <boost/math/tools/toms748_solve.hpp>

#include <cmath>
#include <cstdint>

namespace needleturn::sim {

/// The parameter between `low` and `high` (both > 0) at which growth(parameter), the largest real part of the eigenvalues,
/// passes through zero, to within `relative` of itself. The growth must have opposite signs at the two; if it changes sign
/// more than once between them, one of the changes is found. Bisection aided by interpolation, in the logarithm of the
/// parameter: G. E. Alefeld, F. A. Potra and Y. Shi, ACM Trans. Math. Software 21:327 (1995), as in Boost.
template <class Growth> double stability_boundary(Growth&& growth, double low, double high, double relative) {
    std::uintmax_t most = 100;
    const auto bracket = boost::math::tools::toms748_solve(
        [&](double logarithm) { return growth(std::exp(logarithm)); }, std::log(low), std::log(high),
        [relative](double a, double b) { return std::abs(b - a) < relative; }, most);
    return std::exp(0.5 * (bracket.first + bracket.second));
}

} // namespace needleturn::sim
