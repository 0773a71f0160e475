/// Trapped gas from its keys to the parts of the model.
#include "scenarios/build.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <initializer_list>
#include <string>

using namespace needleturn;
using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

models::AirPocket pocket(const std::string& name, std::initializer_list<const char*> changes) {
    const auto parts = build(nursery(changes)).parts;
    const auto found = std::ranges::find(parts.air_pockets, name, &models::AirPocket::name);
    REQUIRE(found != parts.air_pockets.end());
    return *found;
}

std::size_t states(std::initializer_list<const char*> changes) {
    return models::Station(build(nursery(changes)).parts).states().size();
}

constexpr double atmosphere = models::atmospheric_pressure;

} // namespace

TEST_CASE("gas of which nothing is said keeps to the polytrope of 1.2 and one with an index to its own") {
    const auto plain = pocket("vessel", {});
    CHECK(!plain.heat);
    CHECK(plain.index == 1.2);
    CHECK(plain.free_air == models::free_air_of(10e-3, 3e5, 1.2));
    const auto slow = pocket("vessel", {"downstream.vessel.1.polytropic_index=1"});
    CHECK(slow.index == 1);
    CHECK(slow.free_air == relative(10e-3 * (3e5 + atmosphere) / atmosphere, 1e-14));
    CHECK(build(nursery({})).parts.stages[0].cover.air_index == 1.1);
}

TEST_CASE("gas with a thermal time begins as warm as the water with the precharge that is stated") {
    const auto warm = pocket("supply_vessel", {});
    REQUIRE(warm.heat);
    CHECK(warm.heat->time == 12);
    CHECK(warm.heat->wall == relative(285.15, 1e-14)); // water of 12 degC
    CHECK(warm.index == models::air_heat_ratio);
    CHECK(warm.free_air == relative(20e-3 * (5e5 + atmosphere) / atmosphere, 1e-14));
    CHECK(warm.volume_at(7.5e5)
          == relative(20e-3 * (5e5 + atmosphere) / (7.5e5 + atmosphere), 1e-14)); // p V = constant
    const auto caught = pocket("air_pocket", {"downstream.air_pocket={ volume = \"50 mL\", at = \"4 bar\", "
                                              "thermal_time = \"2 s\" }"});
    REQUIRE(caught.heat);
    CHECK(caught.volume_at(4e5) == relative(50e-6, 1e-14));
}

TEST_CASE("a thermal time brings one state more whichever gas has it") {
    const auto before = states({});
    CHECK(states({"downstream.vessel.1.thermal_time=10 s"}) == before + 1);
    CHECK(states({"downstream.air_pocket={ volume = \"50 mL\", thermal_time = \"2 s\" }"}) == before + 1);
    CHECK(states({"main.air_in_cover={ volume = \"20 mL\", thermal_time = \"2 s\" }"}) == before + 1);
    const models::Station station(
        build(nursery({"main.air_in_cover={ volume = \"20 mL\", thermal_time = \"2 s\" }"})).parts);
    const auto role_of = [&](const std::string& name) {
        const auto found = std::ranges::find(station.states(), name, &Quantity::name);
        REQUIRE(found != station.states().end());
        return found->role;
    };
    CHECK(role_of("main.cover_air") == Role::amount);
    CHECK(role_of("main.cover_air_adiabatic_volume") == Role::dynamic);
}

TEST_CASE("a polytropic index beside a thermal time is refused in one line") {
    for (const auto* change :
         {"supply.vessel.1.polytropic_index=1.3", "main.air_in_cover.thermal_time=2 s",
          "downstream.air_pocket={ volume = \"50 mL\", thermal_time = \"2 s\", polytropic_index = 1.2 }"}) {
        CAPTURE(change);
        const auto message = error_of([&] { nursery({change}); });
        CHECK(message.find("polytropic_index") != std::string::npos);
        CHECK(message.find("means nothing here: thermal_time stands beside it") != std::string::npos);
        CHECK(message.find('\n') == std::string::npos);
    }
}

TEST_CASE("a thermal time of nothing and an index of more than 1.4 are refused") {
    CHECK(error_of([] { nursery({"supply.vessel.1.thermal_time=0 s"}); }).find("out of range")
          != std::string::npos);
    CHECK(error_of([] { nursery({"downstream.vessel.1.polytropic_index=1.67"}); }).find("out of range")
          != std::string::npos);
}
