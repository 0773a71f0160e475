// A night setting: what it takes off the set pressure at which flow.
#include "models/parts/night_setting.h"
#include "tests/reference_stage.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

namespace {

using namespace needleturn::models;
using needleturn::tests::relative;

constexpr NightSetting night{.lower_by = 0.8e5, .below = 1e-3, .above = 3e-3, .lag = 5};

} // namespace

TEST_CASE("a night setting goes by the flow from one end to the other") {
    CHECK(night.day_share(-1e-3) == 0);
    CHECK(night.day_share(1e-3) == 0);
    CHECK(night.day_share(1.5e-3) == relative(0.15625, 1e-12)); // h = 1/4: 3/16 - 2/64
    CHECK(night.day_share(2e-3) == relative(0.5, 1e-12));
    CHECK(night.day_share(3e-3) == 1);
    CHECK(night.day_share(1.0) == 1);
    CHECK(night.eased(0.0, 4e5) == 0.8e5);
    CHECK(night.eased(1.0, 4e5) == 0);
    CHECK(night.eased(0.0, 0.5e5) == 0.5e5); // a slack spring does not pull
}

TEST_CASE("a pilot whose spring is eased rests where one rests that is set lower") {
    auto pilot = needleturn::reference::parts().stages[0].pilot;
    const double inlet = 8e5, set = 4e5, sensed = 3e5, lift = 0.5e-3;
    for (const bool balanced : {true, false}) {
        CAPTURE(balanced);
        if (!balanced)
            pilot.unbalanced_seat = UnbalancedSeat{2e-5, 7e5};
        const auto at = [&](double set_pressure) {
            const double seat =
                balanced ? 0 : pilot.unbalanced_seat->force(inlet - sensed, set_pressure) / pilot.moving_mass;
            return pilot.acceleration(lift, 0.0, set_pressure, sensed) - seat;
        };
        const double eased = night.eased(0.25, set);
        CHECK(at(set) - pilot.spring_acceleration(eased) == relative(at(set - eased), 1e-9));
    }
}
