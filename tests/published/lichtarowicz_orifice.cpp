// Long orifices: Lichtarowicz, Duggins & Markland 1965, J. Mech. Eng. Sci. 7(2) 210-219 (Reynolds term from
// memory).
#include "models/orifice.h"

#include <cmath>
#include <doctest/doctest.h>

using namespace needleturn::models;

TEST_CASE("an orifice four bores long discharges 0.793 when turbulent and 0.738 at Re 2000") {
    constexpr double printed = 0.5e-3;
    CHECK(std::abs(long_orifice_discharge(4) - 0.793) < printed);
    CHECK(std::abs(long_orifice_discharge(4, 2000) - 0.738) < printed);
}
