// What a jet under the disc and an effective area that changes with lift do to the flow below which the generic DN65 valve of the
// nursery hunts by itself, without friction. The figures in the comments come from a trial of this station with another program. It
// says "area -10 %" and the like of a change over the lift: an area smaller by as much at every lift moves the limit far more, for the
// seat is then a larger share of it.

#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/flow_map.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <string>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double litre = 1e-3;
constexpr double two_digits_behind = 0.005; // of the other program's figures and pipes

/// m3/s, the flow below which small motions grow, with so many mL of air in the cover.
double limit_with(double air, const std::string& hardware) {
    const std::vector<scenarios::Override> changes{
        {fmt::format("main.air_in_cover={} mL", air)},
        {fmt::format("main.override={{ main_valve.stem_friction = \"0 N\"{} }}", hardware)}};
    const auto scenario =
        scenarios::read_scenario(tests::source_folder() + "/scenarios/nursery-night.toml", changes);
    return flow_map(scenario, {0.3 * litre, 20 * litre, 24}).minimum_continuous_flow();
}

} // namespace

TEST_CASE("a jet at 69 degrees steadies the bled valve and unsettles one with air in its cover") {
    const std::string jet = ", main_valve.jet_angle = \"69 deg\"";
    CHECK(limit_with(0, "") == relative(2.56 * litre, two_digits_behind));
    CHECK(limit_with(60, "") == relative(13.92 * litre, two_digits_behind));
    CHECK(limit_with(100, "") == relative(14.62 * litre, two_digits_behind));
    CHECK(limit_with(0, jet) == relative(2.28 * litre, two_digits_behind));
    CHECK(limit_with(60, jet) == relative(14.04 * litre, two_digits_behind));
    CHECK(limit_with(100, jet) == relative(15.26 * litre, two_digits_behind));
}

TEST_CASE("an effective area that falls with lift raises the hunting limit and one that grows lowers it") {
    const auto changed = [](double share) {
        return limit_with(0, fmt::format(", main_valve.area_change = {}", share));
    };
    CHECK(changed(-0.1) == relative(2.71 * litre, two_digits_behind));
    CHECK(changed(-0.2) == relative(2.88 * litre, two_digits_behind));
    CHECK(changed(0.2) == relative(2.31 * litre, two_digits_behind));
    // The other reading: 62.7 instead of 69.7 cm2 at every lift. Own figure, 2026-11-29: 6.25 L/s.
    CHECK(limit_with(0, ", main_valve.diaphragm_area = \"62.73 cm2\"") > 2 * changed(-0.1));
}

TEST_CASE("a pilot's seat that is not balanced makes the bled valve hunt at greater flows") {
    // As the pilot opens, the tee's pressure falls and with it what holds the pilot shut: more gain. Own figure, 2026-11-29.
    CHECK(limit_with(0, ", pilot.seat_bore = \"5 mm\"") == relative(3.01 * litre, 0.01));
}
