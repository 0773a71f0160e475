#include "models/laws/wave_speed.h"
#include "tests/relative.h"

#include <cmath>
#include <initializer_list>

using namespace needleturn::models;
using needleturn::tests::relative;

namespace {
constexpr Restraint restraints[] = {Restraint::expansion_joints, Restraint::anchored_upstream,
                                    Restraint::anchored_throughout};
}

TEST_CASE("the thick-wall factor tends to the thin one as the wall gets thinner") {
    const PipeWall foil{0.1, 1e-7, 200e9, 0.3}; // e/D = 1e-6, and the difference is of that order
    for (const auto restraint : restraints)
        CHECK(thick_wall_factor(foil, restraint) == relative(thin_wall_factor(foil, restraint), 3e-6));
}

TEST_CASE("the factor of a thick wall is that of Lame's solution: a bore in an infinite block has e/D psi of "
          "1 + nu") {
    // psi D/e -> 2 (1 + nu) as e -> infinity: strain of the bore in an unbounded solid, textbook elasticity.
    const PipeWall block{0.1, 1e6, 200e9, 0.3};
    for (const auto restraint : restraints)
        CHECK(thick_wall_factor(block, restraint) * block.bore / block.thickness == relative(2.6, 1e-12));
}

TEST_CASE("the more a pipe is held the faster its waves") {
    const PipeWall plastic{0.1, 0.005, 3e9, 0.4};
    double before = 0;
    for (const auto restraint : restraints) {
        const double now =
            wave_speed(2.19e9, 999, wall_term(2.19e9, plastic, thin_wall_factor(plastic, restraint)));
        CHECK(now > before);
        before = now;
    }
    CHECK(before < wave_speed(2.19e9, 999, 0));
}

TEST_CASE("opening a valve lowers the pressure by as much as closing raises it") {
    CHECK(joukowsky_rise(999, 1300, -0.5) == -joukowsky_rise(999, 1300, 0.5));
}
