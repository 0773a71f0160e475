// Inherent characteristics of IEC 60534-2-4 (from memory); values computed apart from this project to six
// digits.
#include "models/laws/characteristic.h"
#include "tests/relative.h"

using namespace needleturn::models;
using needleturn::tests::relative;

constexpr double six_digits = 5e-6;

TEST_CASE("an equal-percentage trim has the relative capacity R to the power h - 1") {
    CHECK(EqualPercentage{50}(0.5) == relative(0.141421, six_digits));
    CHECK(EqualPercentage{50}(0.75) == relative(0.376060, six_digits));
    CHECK(EqualPercentage{30}(0.5) == relative(0.182574, six_digits));
}

TEST_CASE("a linear trim rises from phi0 to one in proportion to travel") {
    CHECK(Linear{0.02}(0.0) == relative(0.02, 1e-15));
    CHECK(Linear{0.02}(0.5) == relative(0.51, 1e-15)); // 0.02 + 0.98/2
    CHECK(Linear{0.02}(1.0) == relative(1.0, 1e-15));
}
