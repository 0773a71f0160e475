#include "models/laws/cavitation.h"

#include <doctest/doctest.h>

using namespace needleturn::models;

TEST_CASE("the screening bands of cavitation meet at 2, 1.7 and 1.5") { // common practice, no source
    CHECK(screen_cavitation(2.0) == Cavitation::none);
    CHECK(screen_cavitation(1.999) == Cavitation::incipient);
    CHECK(screen_cavitation(1.7) == Cavitation::incipient);
    CHECK(screen_cavitation(1.699) == Cavitation::constant);
    CHECK(screen_cavitation(1.5) == Cavitation::constant);
    CHECK(screen_cavitation(1.499) == Cavitation::damaging);
}

TEST_CASE("a deeper reduction has the lower cavitation index") {
    CHECK(cavitation_index(8e5, 2e5, 2339) < cavitation_index(8e5, 4e5, 2339));
}
