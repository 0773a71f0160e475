// Darcy friction factors. The values were computed apart from this project, with high precision, from the
// formulas of Colebrook 1939 (constants as in Clamond 2009), Swamee & Jain 1976, Haaland 1983 and Churchill
// 1977.
#include "models/friction.h"
#include "tests/relative.h"

#include <cmath>

using namespace needleturn::models;
using needleturn::tests::relative;

namespace {
struct Row {
    double reynolds, roughness, colebrook, swamee_jain, haaland, churchill;
};
constexpr Row table[] = {
    {1e4, 1e-3, 0.0323818, 0.0326653, 0.0321749, 0.0326902},
    {1e5, 0, 0.0179898, 0.0178626, 0.0178249, 0.0178748},
    {1e5, 1e-4, 0.0185139, 0.0184524, 0.0182651, 0.0184626},
    {1e5, 5e-3, 0.0313064, 0.0315601, 0.0312789, 0.0315493},
    {1e6, 1e-3, 0.0199435, 0.0200292, 0.0199412, 0.0200220},
};
constexpr double printed = 0.51e-7; // half a unit of the last digit printed, and a little for its rounding
} // namespace

TEST_CASE("friction factors agree with values computed from their formulas") {
    for (const auto& row : table) {
        CAPTURE(row.reynolds);
        CAPTURE(row.roughness);
        CHECK(std::abs(colebrook(row.reynolds, row.roughness) - row.colebrook) < printed);
        CHECK(std::abs(swamee_jain(row.reynolds, row.roughness) - row.swamee_jain) < printed);
        CHECK(std::abs(haaland(row.reynolds, row.roughness) - row.haaland) < printed);
        CHECK(std::abs(churchill(row.reynolds, row.roughness) - row.churchill) < printed);
    }
}

TEST_CASE("Churchill's formula is 64/Re in laminar flow") {
    CHECK(laminar_friction(1000.0) == relative(0.064, 1e-15));
    CHECK(std::abs(churchill(1000.0, 1e-4) - 0.0640000) < printed);
}

TEST_CASE("a worked example at Re 1e5 and roughness 0.005 gives 0.031") {
    // A worked example published on the web, to two digits.
    CHECK(std::abs(colebrook(1e5, 0.005) - 0.031) < 0.0005);
}
