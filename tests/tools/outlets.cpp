// Which outlets run, and how a flow is laid over them. Figures by hand.
#include "tools/studies/outlets.h"

#include "scenarios/demands.h"
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/commissioned.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

scenarios::Scenario hotel(const std::vector<scenarios::Override>& set = {}) {
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/hotel-riser.toml", set);
}

} // namespace

TEST_CASE("a flow is laid over the outlets that run as each wants at its busiest") {
    // 0.5, 2, 4 and 0.5 L/s at the busiest, of kitchen, laundry, rooms and hose reel.
    const auto outlets = outlets_of(hotel());
    REQUIRE(outlets.size() == 4);
    const std::vector<double> busiest{0.5, 2, 4, 0.5};
    for (std::size_t i = 0; i < outlets.size(); ++i)
        CHECK(outlets[i].share == relative(busiest[i] / 7, 1e-12));
    auto laid = hotel();
    lay_flow(laid, 0.7e-3);
    CHECK(laid.downstream.branches[1].demand.start == relative(0.4e-3, 1e-12));
    CHECK(laid.demand.steps.empty());
    CHECK(outlets_of(laid)[1].share == relative(2.0 / 7, 1e-12));
}

TEST_CASE("what is not named as running is shut for good") {
    const auto outlets = outlets_of(hotel({{"running=laundry, demand"}}));
    CHECK(outlets[0].share == relative(0.2, 1e-12));
    CHECK(outlets[1].share == relative(0.8, 1e-12));
    CHECK(outlets[2].share == 0);
    CHECK(outlets[3].share == 0);
    // Of several the last holds, wherever it stands, also ahead of what changes an outlet.
    const auto rooms = hotel({{"running=laundry"}, {"running=rooms"}, {"laundry.start=1 L/s"}});
    CHECK(outlets_of(rooms)[2].share == 1);
}

TEST_CASE("flows to prove a building at are what its outlets want together") {
    // 0.9 at first; + 2 laundry, + 0.5 hose reel, then kitchen 0.5 and rooms 4: 7; without the laundry 5, without the reel 4.5.
    const auto flows = proof_flows(hotel());
    CHECK(flows.low == relative(0.9e-3, 1e-12));
    CHECK(flows.full == relative(7e-3, 1e-12));
    CHECK(flows.middle == relative(2.9e-3, 1e-12)); // the building's own, nearest to 2.5 in ratio
}

TEST_CASE("a line without pressure is open at the top alone") {
    // Hydrostatics: 999.1 kg/m3 at 15 degC (handbook table, from memory).
    const auto outlets = outlets_of(hotel());
    CHECK(outlets[2].head == relative(25 * 999.1 * 9.80665, 1e-4));
    CHECK(shares_at_the_top(outlets) == std::vector<double>{0, 0, 1, 0});
    // Rooms that do not run still have their water above the laundry.
    CHECK(shares_at_the_top(outlets_of(hotel({{"running=laundry"}}))) == std::vector<double>{0, 0, 1, 0});
    const auto level = outlets_of(hotel({{"rooms.pipe.rise=0 m"}, {"hose_reel.pipe.rise=0 m"}}));
    CHECK(shares_at_the_top(level)[1] == relative(2.0 / 7, 1e-12));
}

TEST_CASE("what drains behind the valve are the pipes above it, as far as they are") {
    const auto of = [](double bore, double length) { return std::numbers::pi / 4 * bore * bore * length; };
    CHECK(standing_volume(hotel()) == relative(of(0.0689, 40) + of(0.036, 30), 1e-9));
    // From 10 m below to 15 m above: three fifths of the rooms' pipe.
    const auto sunk = hotel({{"downstream.pipe.rise=-10 m"}});
    CHECK(standing_volume(sunk) == relative(0.6 * of(0.0689, 40) + of(0.036, 30) * 2 / 12, 1e-9));
}
