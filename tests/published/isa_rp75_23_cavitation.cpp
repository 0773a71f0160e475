// Cavitation index: definition of ISA-RP75.23.
#include "models/laws/air.h"
#include "models/laws/cavitation.h"
#include "models/laws/trim.h"
#include "tests/relative.h"

#include <cmath>

using namespace needleturn::models;
using needleturn::tests::relative;

namespace {

constexpr double inlet = 700e3, vapour = 2339; // Pa absolute, cold water

double outlet_at(double index) { return inlet - (inlet - vapour) / index; }

/// m3/s of a valve with F_L 0.9 at a cavitation index.
double flow(double index) {
    Trim trim;
    trim.capacity = trim.full_lift = 1;
    trim.recovery = 0.9;
    trim.critical_pressure_term = vapour * critical_pressure_ratio_factor(vapour, 22.064e6);
    return trim.flow(inlet - atmospheric_pressure, outlet_at(index) - atmospheric_pressure, 1.0);
}

} // namespace

TEST_CASE("the cavitation index is that of ISA-RP75.23") {
    CHECK(cavitation_index(1000, 800, 200) == relative(4.0, 1e-15)); // (1000 - 200) / 200, by hand
}

TEST_CASE("a valve with F_L 0.9 chokes near a cavitation index of 1.235") {
    // 1 / F_L^2, for F_F near 1; F_F p_v for p_v shifts the index by p_v (1 - F_F)/dp.
    REQUIRE(cavitation_index(inlet, outlet_at(1.5), vapour) == relative(1.5, 1e-12));
    // The corner is rounded over a twentieth of the drop either side.
    CHECK(flow(1.235 / 1.06) == relative(flow(1.235 / 1.2), 1e-12));
    CHECK(flow(1.235 * 1.06) < flow(1.235 / 1.06));
    CHECK(flow(1.235 * 1.2) < flow(1.235 * 1.06));
}
