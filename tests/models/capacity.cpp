#include "models/capacity.h"
#include "tests/relative.h"

#include <cmath>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("a Kv of one passes one cubic metre per hour at one bar") {
    CHECK(capacity_of_kv(1.0) * std::sqrt(1e5) * 3600 == relative(1.0, 1e-15));
}

TEST_CASE("a Cv of one passes one US gallon per minute at one psi") {
    // 1 US gal/min = 6.30902e-5 m3/s, 1 psi = 6894.76 Pa: NIST SP 811, six digits.
    CHECK(capacity_of_cv(1.0) * std::sqrt(6894.76) == relative(6.30902e-5, 1e-6));
}

TEST_CASE("conversions of capacity are inverses") {
    CHECK(kv_of_capacity(capacity_of_kv(37.0)) == relative(37.0, 1e-15));
    CHECK(cv_of_capacity(capacity_of_cv(37.0)) == relative(37.0, 1e-15));
}
