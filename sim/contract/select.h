/// Choices in equations, for one number and for several side by side (sim/pack.h), whose comparisons say yes and no per
/// lane and which cannot branch.
#pragma once

#include <concepts>

namespace needleturn {

/// a where `first` holds, b elsewhere.
template <std::floating_point T> T select(bool first, const T& a, const T& b) { return first ? a : b; }

/// first() where `condition` holds, second() elsewhere; both give the same type. One number evaluates only what it takes,
/// lanes evaluate both: neither may fail where the other is asked for.
template <class First, class Second> auto either(bool condition, const First& first, const Second& second) {
    return condition ? first() : second();
}

/// The same for a condition on parameters, which seldom differ: lanes evaluate only what one of them takes, so a form that no
/// lane has costs nothing.
template <class First, class Second> auto where(bool condition, const First& first, const Second& second) {
    return condition ? first() : second();
}

} // namespace needleturn
