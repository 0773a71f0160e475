/// Words of a map, of points made by hand.
#include "tools/commands/map_text.h"

#include "scenarios/read_scenario.h"
#include "tests/places.h"

#include <doctest/doctest.h>

#include <string>

namespace {

using namespace needleturn;

/// A flow that the first stage lets back a little, while the second carries it.
FlowMap with_band(double lowest, double highest) {
    FlowMap::Point point;
    point.flow = 1e-3;
    point.outlet_pressure = 4.04e5;
    point.outlet_lowest = lowest;
    point.outlet_highest = highest;
    point.stages = {{.flow = -1e-9}, {.flow = 1e-3}};
    FlowMap map;
    map.stages = {"main", "bypass"};
    map.points = {point};
    map.sticking = {{.name = "main", .breakaway = 1, .on_diaphragm = 1e3}};
    return map;
}

scenarios::Scenario nursery() {
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/nursery-night.toml", {});
}

} // namespace

TEST_CASE("a band of rest whose ends read alike is told by its width, any other by its ends") {
    const auto narrow = map_summary(nursery(), with_band(4.036e5, 4.044e5));
    CHECK(narrow.find("in a band about 4.04 bar at ") != std::string::npos);
    CHECK(narrow.find("where that band is widest (0.0080 bar)") != std::string::npos);
    const auto wide = map_summary(nursery(), with_band(4.00e5, 4.08e5));
    CHECK(wide.find("between 4.00 bar and 4.08 bar at ") != std::string::npos);
}

TEST_CASE("a stage that lets a little back carries 0 %, not -0 %") {
    const auto table = map_table(nursery(), with_band(4e5, 4e5), 1);
    CHECK(table.find("-0 %") == std::string::npos);
    CHECK(table.find(" 0 % ") != std::string::npos);
}
