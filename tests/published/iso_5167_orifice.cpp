// Capacity of an orifice by a formula of the trade.
#include "models/laws/orifice.h"
#include "scenarios/units.h"
#include "tests/relative.h"

using namespace needleturn;
using needleturn::tests::relative;

TEST_CASE("an orifice of one square inch with a coefficient of one has a Cv of 38") {
    // Trade formula Cv = 38 Cd A, from memory, two digits.
    CHECK(models::orifice_capacity(1.0, 0.0254 * 0.0254)
          == relative(scenarios::parse_quantity("38 Cv", scenarios::Dimension::capacity), 2e-3));
}
