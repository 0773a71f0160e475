/// A function of two values inside an equation that reads many: where it takes more than a few operations, its two
/// derivatives are found by themselves and joined to those of the values, instead of carrying every input through it.
#pragma once

namespace needleturn {

/// f(x, y). sim/dual.h has the form for dual numbers.
template <class S, class F> S of_two(const F& f, const S& x, const S& y) { return f(x, y); }

} // namespace needleturn
