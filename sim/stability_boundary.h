/// Where a parameter turns a steady state unsteady.
#pragma once

#include <boost/math/tools/toms748_solve.hpp>

#include <cmath>
#include <cstdint>

namespace needleturn::sim {

/// The parameter between `low` and `high` (both > 0) at which growth(parameter), the largest real part of the eigenvalues,
/// passes through zero, to within `relative` of itself. `growth_low` and `growth_high`, of opposite signs, are the growths
/// there; if it changes sign more than once between them, one of the changes is found. Bisection aided by interpolation, in
/// the logarithm of the parameter: G. E. Alefeld, F. A. Potra and Y. Shi, ACM Trans. Math. Software 21:327 (1995), as in
/// Boost.
template <class Growth> double stability_boundary(Growth&& growth, double low, double growth_low, double high,
                                                  double growth_high, double relative) {
    std::uintmax_t most = 100;
    const auto bracket = boost::math::tools::toms748_solve(
        [&](double logarithm) { return growth(std::exp(logarithm)); }, std::log(low), std::log(high),
        growth_low, growth_high, [relative](double a, double b) { return std::abs(b - a) < relative; }, most);
    return std::exp(0.5 * (bracket.first + bracket.second));
}

/// The same, with the growths at both ends asked for.
template <class Growth> double stability_boundary(Growth&& growth, double low, double high, double relative) {
    return stability_boundary(growth, low, growth(low), high, growth(high), relative);
}

} // namespace needleturn::sim
