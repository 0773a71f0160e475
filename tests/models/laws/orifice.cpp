#include "models/laws/orifice.h"
#include "tests/relative.h"

#include <cmath>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("the capacity of an orifice gives Torricelli's flow times the discharge coefficient") {
    const double area = 5e-6, drop = 3e5;
    CHECK(orifice_capacity(0.61, area) * std::sqrt(drop)
          == relative(0.61 * area * std::sqrt(2 * drop / reference_density), 1e-15));
}
