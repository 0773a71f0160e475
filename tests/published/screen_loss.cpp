// What a strainer's screen loses, against Idelchik, Handbook of Hydraulic Resistance (from memory): the diagram of screens of round
// wires at Re above 1000, K = 1.3 (1 - f) + (1 / f - 1)^2, referred to the speed ahead of the screen, f the share that is open; and
// that of thin perforated plates with sharp edges, K = (0.707 sqrt(1 - f) + 1 - f)^2 / f^2, which no round wire reaches. Below
// both stands the loss of Borda and Carnot alone, (1 / f - 1)^2: a jet as wide as the open meshes that widens to the whole.
#include "models/parts/strainer.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

using needleturn::models::Strainer;
using needleturn::tests::relative;

TEST_CASE("the loss coefficient of a screen of round wires is that of the handbook's formula by hand") {
    // f = 1/2: 0.65 + 1; f = 0.4: 0.78 + 2.25; f = 0.2: 1.04 + 16; f = 0.1: 1.17 + 81.
    CHECK(Strainer::loss_coefficient(0.5) == relative(1.65, 1e-12));
    CHECK(Strainer::loss_coefficient(0.4) == relative(3.03, 1e-12));
    CHECK(Strainer::loss_coefficient(0.2) == relative(17.04, 1e-12));
    CHECK(Strainer::loss_coefficient(0.1) == relative(82.17, 1e-12));
    CHECK(Strainer::loss_coefficient(1) == 0);
}

TEST_CASE("a screen of round wires loses more than a sudden widening and less than a sharp-edged plate") {
    for (const double f : {0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8}) {
        CAPTURE(f);
        const double shut = 1 - f, plate = std::pow((0.707 * std::sqrt(shut) + shut) / f, 2);
        CHECK(Strainer::loss_coefficient(f) > std::pow(shut / f, 2));
        CHECK(Strainer::loss_coefficient(f) < plate);
    }
}
