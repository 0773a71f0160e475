#include "models/laws/air.h"
#include "tests/relative.h"

#include <initializer_list>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("trapped air has its free volume at atmospheric pressure, whatever its index") {
    for (const double index : {1.0, 1.2, 1.4})
        CHECK(air_volume(50e-6, 0.0, index) == relative(50e-6, 1e-15));
}

TEST_CASE("an amount of air does not change when it is squeezed and read again") {
    for (const double pressure : {-0.9e5, 0.0, 6e5, 25e5})
        CHECK(air_volume(free_air_of(20e-6, pressure, 1.2), pressure, 1.2) == relative(20e-6, 1e-14));
}

TEST_CASE("isothermal air is softer than adiabatic air of the same volume") {
    const double pressure = 6e5;
    const auto left = [&](double index) {
        return air_volume(free_air_of(1e-6, pressure, index), pressure + 1e4, index);
    };
    CHECK(left(1.0) < left(1.4));
}
