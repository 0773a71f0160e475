// A check valve: passes one way what its capacity says, the other way no more than it weeps.
#include "models/parts/check_valve.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

namespace {

using namespace needleturn;
using namespace needleturn::models;
using tests::relative;

constexpr double kv_60 = 60 / 3600.0 / 316.22776601683796; // m3 s-1 Pa-1/2: 60 m3/h at 1 bar

} // namespace

TEST_CASE("an open check valve takes its capacity's loss and the drop that opens it") {
    const CheckValve check{kv_60, {}};
    for (const double flow : {0.5e-3, 2e-3, 6e-3, 15e-3}) { // m3/s
        CAPTURE(flow);
        const double drop = CheckValve::drop(kv_60, flow);
        CHECK(check.flow(drop, 0.0) == relative(flow, 1e-6)); // what it weeps besides
        // Pa, by hand: 1 bar at 60 m3/h; the flap takes no more than its 2 kPa on top, and the knee of 5 Pa.
        const double loss = 1e5 * std::pow(flow * 3600 / 60, 2);
        CHECK(drop > loss);
        CHECK(drop < loss + 2e3 + 2 * std::sqrt(2.5 * loss));
    }
    // 6 L/s are 21.6 m3/h, 0.36 of 60: 0.1296 bar. With 180 Pa of the knee and d the whole, the flap takes 2 d / (d + 2) kPa of it:
    // 13.14 + 1.76 = 14.90 kPa.
    CHECK(CheckValve::drop(kv_60, 6e-3) == relative(14.90e3, 1e-3));
}

TEST_CASE("a shut check valve weeps a billionth and nothing at no drop") {
    const CheckValve check{kv_60, {}};
    CHECK(check.flow(3e5, 3e5) == 0);
    CHECK(check.flow(3e5, 3.5e5) < 0);
    CHECK(std::abs(check.flow(0.0, 10e5)) < 1.001e-9 * kv_60 * std::sqrt(10e5));
    CHECK(check.flow(3.5e5, 3e5) > 1e6 * std::abs(check.flow(3e5, 3.5e5)));
    // It does not jump: from shut to open over the drop that lifts the flap.
    CHECK(check.flow(100.0, 0.0) < 0.3 * kv_60 * std::sqrt(100.0));
    CHECK(check.flow(2e4, 0.0) > 0.9 * kv_60 * std::sqrt(2e4));
}

TEST_CASE("two passages in series take the sum of their losses") {
    CHECK(in_series(3.0, 4.0) == relative(2.4, 1e-12)); // 1/9 + 1/16 = 1/2.4^2
}
