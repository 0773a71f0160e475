// Darcy friction factors. The values were computed apart from this project, with high precision, from the
// formulas of Colebrook 1939 (constants as in Clamond 2009) and Churchill 1977.
#include "models/laws/friction.h"
#include "tests/relative.h"

#include <cmath>

using namespace needleturn::models;
using needleturn::tests::relative;

namespace {
struct Row {
    double reynolds, roughness, colebrook, churchill;
};
constexpr Row table[] = {
    {1e4, 1e-3, 0.0323818, 0.0326902}, {1e5, 0, 0.0179898, 0.0178748},    {1e5, 1e-4, 0.0185139, 0.0184626},
    {1e5, 5e-3, 0.0313064, 0.0315493}, {1e6, 1e-3, 0.0199435, 0.0200220},
};
constexpr double printed = 0.51e-7; // half a unit of the last digit printed, and a little for its rounding
} // namespace

TEST_CASE("friction factors agree with values of Churchill, and nearly with those of Colebrook") {
    for (const auto& row : table) {
        CAPTURE(row.reynolds);
        CAPTURE(row.roughness);
        // Churchill's turbulent part is the form of Swamee and Jain, within 2 % of Colebrook here.
        CHECK(churchill(row.reynolds, row.roughness) == relative(row.colebrook, 0.02));
        CHECK(std::abs(churchill(row.reynolds, row.roughness) - row.churchill) < printed);
    }
}

TEST_CASE("Churchill's formula is 64/Re in laminar flow") {
    CHECK(std::abs(churchill(1000.0, 1e-4) - 0.0640000) < printed);
}
