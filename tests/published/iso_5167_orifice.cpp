// Thin orifices: ISO 5167-2, corner taps. Values computed apart from this project from the formula (from
// memory).
#include "models/orifice.h"
#include "tests/relative.h"

#include <cmath>
#include <initializer_list>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("the discharge coefficient at Re 1e6 is 0.597 to 0.605 for bore ratios 0.2 to 0.6") {
    constexpr double printed = 0.5e-5;
    const double bore = 0.1; // m, large enough for the small-pipe term to vanish
    CHECK(std::abs(iso_5167_discharge(0.2, 1e6, bore) - 0.59738) < printed);
    CHECK(std::abs(iso_5167_discharge(0.5, 1e6, bore) - 0.60378) < printed);
    CHECK(std::abs(iso_5167_discharge(0.6, 1e6, bore) - 0.60541) < printed);
}

TEST_CASE("a thin sharp-edged orifice discharges between 0.60 and 0.62 of the ideal flow") {
    // The textbook range (0.62 is the web's usual figure); ISO's own at moderate Reynolds numbers lies
    // inside.
    for (const double ratio : {0.3, 0.4, 0.5, 0.6}) {
        CAPTURE(ratio);
        CHECK(iso_5167_discharge(ratio, 5e4, 0.1) > 0.60);
        CHECK(iso_5167_discharge(ratio, 5e4, 0.1) < 0.62);
    }
}

TEST_CASE("an orifice of one square inch with a coefficient of one has a Cv of 38") {
    // Trade formula Cv = 38 Cd A, from memory, two digits.
    CHECK(cv_of_capacity(orifice_capacity(1.0, 0.0254 * 0.0254)) == relative(38.0, 2e-3));
}
