/// Source of the numbers: libstdc++'s own std::normal_distribution, which is the C++ library of this build.
#include "sim/normal_draw.h"

#include <doctest/doctest.h>

#include <random>

using namespace needleturn;

TEST_CASE("normal draws are those of this C++ library to the last bit") {
    std::mt19937_64 own(7), theirs(7);
    sim::NormalDraw normal;
    std::normal_distribution<double> library(0, 1);
    for (int i = 0; i < 10'000; ++i)
        REQUIRE(normal(own) == library(theirs));
}
