// Wave speed and the Joukowsky rise against laboratory rigs and hand calculations.
#include "models/laws/wave_speed.h"
#include "tests/relative.h"

#include <cmath>
#include <initializer_list>
#include <utility>

using namespace needleturn::models;
using needleturn::tests::relative;

TEST_CASE("a rigid pipe carries waves at the speed of sound of its water") {
    CHECK(wave_speed(2.0164e9, 1000, 0) == relative(1420, 1e-9)); // 1420^2 is 2016400 exactly
}

TEST_CASE("copper pipes of a laboratory rig carry waves at the published speeds") {
    // Speeds to 1 m/s: a published table of a reservoir-pipe-valve rig (iwaponline.com/view-large/1085747).
    // Modulus of copper, restraint factor and water are from memory; they reproduce all three.
    struct Row {
        double bore_mm, wall_mm, speed;
    };
    for (const auto& row : {Row{22.14, 1.63, 1319}, Row{22.96, 1.22, 1273}, Row{23.58, 0.91, 1217}}) {
        CAPTURE(row.speed);
        const PipeWall copper{row.bore_mm * 1e-3, row.wall_mm * 1e-3, 124.1e9, 0.34};
        CHECK(std::abs(wave_speed(2.149e9, 999.1, wall_term(2.149e9, copper, 1.006)) - row.speed) < 0.5);
    }
}

TEST_CASE("pipes of steel, copper, PVC-U and ductile iron with expansion joints match a hand calculation") {
    // Computed apart from this project to 0.01 m/s.
    struct Row {
        double bore_mm, wall_mm, modulus_gpa, speed;
    };
    for (const auto& row : {Row{159.3, 4.5, 207, 1262.88}, Row{20, 1, 117, 1262.96},
                            Row{144.6, 7.7, 3.0, 386.06}, Row{160, 6, 170, 1277.37}}) {
        CAPTURE(row.speed);
        const PipeWall wall{row.bore_mm * 1e-3, row.wall_mm * 1e-3, row.modulus_gpa * 1e9, 0.3};
        const double factor = thin_wall_factor(wall, Restraint::expansion_joints);
        CHECK(std::abs(wave_speed(2.19e9, 999, wall_term(2.19e9, wall, factor)) - row.speed) < 0.005);
    }
}

TEST_CASE(
    "restraint factors are those of Halliwell for thin walls and of Wylie and Streeter for thick ones") {
    // By hand from the formulas (from memory) for nu = 0.3, e/D = 0.1.
    const PipeWall wall{0.1, 0.01, 200e9, 0.3};
    CHECK(thin_wall_factor(wall, Restraint::expansion_joints) == relative(1.0, 1e-15));
    CHECK(thin_wall_factor(wall, Restraint::anchored_upstream) == relative(0.95, 1e-15));
    CHECK(thin_wall_factor(wall, Restraint::anchored_upstream_hoop) == relative(0.85, 1e-15));
    CHECK(thin_wall_factor(wall, Restraint::anchored_throughout) == relative(0.91, 1e-15));
    CHECK(thick_wall_factor(wall, Restraint::anchored_throughout) == relative(0.26 + 0.91 / 1.1, 1e-15));
}

TEST_CASE("the first rise of a laboratory closure is the Joukowsky rise") {
    // Bergant, Simpson & Vitkovsky 2001, J. Hydraul. Res. 39(3) 249-257: a = 1319 m/s, 0.1, 0.2 and 0.3 m/s
    // stopped (rig from memory); in metres of water, to 0.01 m.
    const double density = 999.1, g = 9.81;
    for (const auto& [velocity, head] : {std::pair{0.1, 13.45}, {0.2, 26.89}, {0.3, 40.34}}) {
        const double rise = joukowsky_rise(density, 1319, velocity);
        CHECK(std::abs(rise / (density * g) - head) < 0.0051); // half a unit of the last digit, rounded
    }
}
