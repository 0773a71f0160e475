// Limits at outlets: a table under [accept] by the name of the outlet, which --set reaches as any key.
#include "scenarios/limits.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

std::string error_of_set(const char* change) {
    return error_of([&] { nursery({change}); });
}

} // namespace

TEST_CASE("limits at outlets are read by the names of branches, of consumers and of the demand") {
    const auto outlets = nursery().accept.outlets;
    REQUIRE(outlets.size() == 3);
    CHECK(outlets[0].outlet == "demand");
    CHECK(outlets[0].lowest_pressure == 3e5);
    CHECK_FALSE(outlets[0].highest_pressure);
    CHECK(outlets[1].outlet == "boiler");
    CHECK(outlets[2].outlet == "mist");
    CHECK(outlets[2].flicker == 0.1e5);
    CHECK(nursery({"accept.mist.flicker=0.2 bar"}).accept.outlets[2].flicker == 0.2e5);
    CHECK(nursery({"accept={}", "accept.mist.flicker=0.2 bar"}).accept.outlets.size() == 1);
}

TEST_CASE("what is wrong with a limit at an outlet is told in one line") {
    CHECK(error_of_set("accept.mits.flicker=0.2 bar").find("unknown key; nearest is mist")
          != std::string::npos);
    CHECK(error_of_set("accept.mist.hunting=0.2 bar").find("unknown key") != std::string::npos);
    CHECK(
        error_of_set("accept.mist.lowest_pressure=6 bar")
        == "--set accept.mist.lowest_pressure=6 bar: accept.mist.lowest_pressure = \"6 bar\": must be below "
           "highest_pressure");
    CHECK(error_of_set("accept.cavitation_index=0.5").find("out of range; must be from 1 to 100")
          != std::string::npos);
    CHECK(error_of_set("accept.pipe_velocity=2 bar").find("a speed is wanted") != std::string::npos);
    CHECK(error_of_set("accept.rooms={ flicker = '0.2 bar' }").find("unknown key") != std::string::npos);
}

TEST_CASE("stated limits come in the order of the table, those at outlets by outlet") {
    std::string keys;
    for (const auto& stated : stated_limits(nursery().accept))
        keys += stated.what.key() + " ";
    CHECK(keys
          == "highest_outlet_pressure lowest_outlet_pressure hunting_peak_to_peak settling_time fall_off "
             "share_delivered "
             "static_rise pipe_velocity cavitation_index relief_volume boiler.highest_pressure "
             "mist.highest_pressure "
             "demand.lowest_pressure boiler.lowest_pressure mist.lowest_pressure mist.flicker ");
    const PlacedLimit limit{Limit::lowest_there, "hose_reel"};
    CHECK(limit.name() == "lowest pressure at hose reel");
    CHECK(limit.condition() == "hose reel at least");
    CHECK(limit.metric() == "hose_reel.lowest_pressure");
    CHECK_FALSE(states_a_limit(Accept{}));
}
