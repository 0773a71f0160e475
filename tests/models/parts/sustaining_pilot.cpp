// A sustaining pilot: where its spring lets it open, and what it and the reducing pilot pass together.
#include "models/parts/sustaining_pilot.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

namespace {

using namespace needleturn;
using namespace needleturn::models;
using tests::relative;

SustainingPilot pilot() {
    SustainingPilot made;
    made.capacity = 3e-6;
    made.full_lift = 2.5e-3;
    made.diaphragm_area = 2e-3;
    made.spring_rate = 170e3;
    made.moving_mass = 0.15;
    made.seat = made.stop = pilot_stop;
    return made;
}

} // namespace

TEST_CASE("a sustaining pilot opens with the inlet above its setting and stays shut below") {
    const auto made = pilot();
    CHECK(made.steady_lift(4e5, 3.9e5) == 0);
    CHECK(made.steady_lift(4e5, 4e5) == 0);
    CHECK(made.steady_lift(4e5, 4.85e5) == relative(1e-3, 1e-12)); // 2e-3 x 0.85e5 / 170e3 by hand
    CHECK(made.steady_lift(4e5, 9e5) == 2.5e-3);
    // At rest nothing is left over of its forces; above that lift they shut it.
    CHECK(std::abs(made.acceleration(1e-3, 0.0, 4e5, 4.85e5)) < 1e-9);
    CHECK(made.acceleration(1.1e-3, 0.0, 4e5, 4.85e5) < 0);
}

TEST_CASE("two pilots in series pass what both losses together leave and the tighter one decides") {
    const auto made = pilot();
    const double own = made.open_capacity(1e-3), reducing = 4.0 / 3.0 * own;
    CHECK(made.through_both(reducing, 1e-3) == relative(0.8 * own, 1e-9)); // 3, 4 and 12 / 5
    CHECK(made.through_both(1e3 * own, 1e-3) == relative(own, 1e-6));
    CHECK(made.through_both(1e-3 * own, 1e-3) == relative(1e-3 * own, 1e-6));
    CHECK(made.through_both(reducing, 0.0) == 0);
    CHECK(made.through_both(0.0, 1e-3) == 0);
    CHECK(made.through_both(0.0, 0.0) == 0);
}

TEST_CASE("between two pilots stands what the reducing one leaves") {
    const auto made = pilot();
    const double own = made.open_capacity(1e-3), reducing = 4.0 / 3.0 * own;
    const double between = made.between(reducing, 1e-3, 6e5, 3.5e5);
    CHECK(between == relative(6e5 - 2.5e5 * 0.36, 1e-9)); // 9 of 25
    // One flow passes both.
    CHECK(reducing * std::sqrt(6e5 - between) == relative(own * std::sqrt(between - 3.5e5), 1e-9));
}
