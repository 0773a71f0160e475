/// A tolerance relative to the expected value: CHECK(measured == relative(expected, 1e-9)).
#pragma once

#include <doctest/doctest.h>

namespace needleturn::tests {

/// doctest's own Approx adds 1 to the scale, which makes it blind to errors of small numbers.
inline doctest::Approx relative(double expected, double tolerance) {
    return doctest::Approx(expected).scale(0).epsilon(tolerance);
}

} // namespace needleturn::tests
