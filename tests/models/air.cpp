#include "models/air.h"
#include "sim/dual.h"
#include "tests/relative.h"

#include <cmath>
#include <initializer_list>

using namespace needleturn::models;
using needleturn::tests::relative;
using Dual = needleturn::sim::Dual<double, 1>;

TEST_CASE("trapped air has its free volume at atmospheric pressure, whatever its index") {
    for (const double index : {1.0, 1.2, 1.4})
        CHECK(air_volume(50e-6, 0.0, index) == relative(50e-6, 1e-15));
}

TEST_CASE("the compliance of trapped air is the slope of its volume") {
    for (double pressure = -0.9e5; pressure < 25e5; pressure += 0.7e5) {
        CAPTURE(pressure);
        const auto volume = air_volume(Dual{50e-6}, Dual{pressure, 0, 1.0}, 1.2);
        // The slope of a power, by two roundings of pow: a few units in the last place.
        CHECK(air_compliance(50e-6, pressure, 1.2) == relative(-volume.slope[0], 1e-14));
    }
}

TEST_CASE("an amount of air does not change when it is squeezed and read again") {
    for (const double pressure : {-0.9e5, 0.0, 6e5, 25e5})
        CHECK(air_volume(free_air_of(20e-6, pressure, 1.2), pressure, 1.2) == relative(20e-6, 1e-14));
}

TEST_CASE("isothermal air is softer than adiabatic air of the same volume") {
    const double pressure = 6e5;
    CHECK(air_compliance(free_air_of(1e-6, pressure, 1.0), pressure, 1.0)
          > air_compliance(free_air_of(1e-6, pressure, 1.4), pressure, 1.4));
}

TEST_CASE("gas slows the wave the more the lower the pressure, and none leaves it alone") {
    CHECK(mixture_wave_speed(2.19e9, 999, 0, 0, 1e5, 1.2) == relative(std::sqrt(2.19e9 / 999), 1e-15));
    CHECK(mixture_wave_speed(2.19e9, 999, 0, 1e-3, 1e5, 1.2)
          < mixture_wave_speed(2.19e9, 999, 0, 1e-3, 5e5, 1.2));
    CHECK(mixture_wave_speed(2.19e9, 999, 0, 2e-3, 1e5, 1.2)
          < mixture_wave_speed(2.19e9, 999, 0, 1e-3, 1e5, 1.2));
    CHECK(mixture_wave_speed(2.19e9, 999, 0.3, 1e-3, 1e5, 1.2)
          < mixture_wave_speed(2.19e9, 999, 0, 1e-3, 1e5, 1.2));
}
