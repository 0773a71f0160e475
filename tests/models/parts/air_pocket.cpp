/// The gas of a vessel: its volume from its pressure, and where it rests.
#include "models/parts/air_pocket.h"
#include "sim/dual.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

using namespace needleturn::models;
using needleturn::tests::relative;

namespace {

AirPocket vessel_of_ten_litres() { return {"vessel", 0, free_air_of(10e-3, 3e5, 1.2), 1.2, 1e-3, 10e-3}; }

} // namespace

TEST_CASE("the volume of gas is that which makes its pressure, off the wall of its vessel and on it") {
    using Sloped = needleturn::sim::Dual<double, 1>;
    const auto vessel = vessel_of_ten_litres();
    auto caught = vessel;
    caught.vessel.reset();
    for (const double share : {0.2, 0.7, 0.999, 1.0001, 1.001, 1.003}) {
        CAPTURE(share);
        const double volume = share * 10e-3;
        CHECK(caught.gas_volume(caught.pressure(volume)) == relative(volume, 1e-14));
        CHECK(vessel.gas_volume(vessel.pressure(volume)) == relative(volume, 1e-9));
        // Its slope is the inverse of that of the pressure; on the wall four rounds leave it at 1e-6.
        const auto pressure = vessel.pressure(Sloped{volume, 0, 1.0});
        const auto back = vessel.gas_volume(Sloped{pressure.value, 0, 1.0});
        CHECK(back.slope[0] == relative(1 / pressure.slope[0], 1e-6));
    }
}

TEST_CASE(
    "gas that warms and cools rests where it is as warm as the walls, on the wall of an empty vessel too") {
    auto vessel = vessel_of_ten_litres();
    vessel.index = air_heat_ratio;
    vessel.heat = GasHeat{10, 288.15};
    vessel.free_air = free_air_of(10e-3, 3e5, 1.0);
    AirPocketIndex at{0, 1};
    for (const double pressure : {-0.9e5, 1e5, 3.1e5, 6e5}) {
        CAPTURE(pressure);
        std::vector<double> y(2);
        vessel.put_rest(at, pressure, y);
        CHECK(std::abs(vessel.pressure(y[0], y[1]) - pressure) < 1e-3); // Pa
        const double cold =
            vessel.heat->at_wall(vessel.free_air, vessel.gas_pressure(y[0], y[1]), vessel.index);
        CHECK(vessel.heat->temperature(y[1], cold) == relative(288.15, 1e-12));
        CHECK(std::abs(vessel.heat->rate(y[1], cold, vessel.index)) < 1e-16);
        CHECK(y[0] < 10e-3 * 1.005);
    }
}
