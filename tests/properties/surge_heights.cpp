// How far the number of cells may have the peaks and troughs of a surge off: equation (38) of scenarios/pipe_grid.h, against
// the closed form of a frictionless line. A flow q(t) drawn at the end of a line from a reservoir moves the pressure there by
// Z (r(t) - 2 r(t - 2L/a) + 2 r(t - 4L/a) - ...), r what q has fallen by (N. Joukowsky 1898; L. Allievi's interlocking
// equation without a valve).
#include "scenarios/pipe_grid.h"
#include "tests/pipe_line.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

/// In parts of Joukowsky's value.
struct Heights {
    double highest = 0, lowest = 0;
};

/// Four round trips after a flow stops linearly within `over` transits.
Heights closed_form(double over) {
    const auto fallen = [over](double t) { return std::clamp(t / over, 0.0, 1.0); };
    Heights heights;
    for (double t = 0; t < 8; t += 1e-3) { // in transits
        double p = fallen(t), sign = -2;
        for (double late = t - 2; late > 0; late -= 2, sign = -sign)
            p += sign * fallen(late);
        heights.highest = std::max(heights.highest, p);
        heights.lowest = std::min(heights.lowest, p);
    }
    return heights;
}

Heights run(double velocity, std::size_t cells, double over) {
    auto line = bergant_rig(velocity, cells);
    line.pipe.friction_factor = 1e-12;
    line.reservoir = Schedule(30e5); // far from vapour pressure, whatever the wave
    line.trace_fraction = 1e-13;
    const double transit = line.pipe.length / line.pipe.wave_speed;
    line.demand.then({0, 0, over * transit});
    LineRun run(line);
    const double joukowsky = models::joukowsky_rise(line.pipe.density, line.pipe.wave_speed, velocity);
    Heights heights;
    run.run(8 * transit, transit / 50, 1e-5, [&](double) {
        const double p = (run.valve_pressure() - line.reservoir.start()) / joukowsky;
        heights.highest = std::max(heights.highest, p);
        heights.lowest = std::min(heights.lowest, p);
    });
    return heights;
}

} // namespace

TEST_CASE("peaks and troughs are as near as equation (38) says for any cells and any closure"
          * doctest::test_suite("long")) {
    double nearest = 1e9;
    for (const double velocity : {0.1, 1.2}) // 1.3 and 16 bar
        for (const std::size_t cells : {8u, 16u, 32u, 64u})
            for (const double over : {0.1, 0.5, 1.0, 1.5, 2.5, 3.5, 7.0}) {
                CAPTURE(velocity);
                CAPTURE(cells);
                CAPTURE(over);
                const auto exact = closed_form(over), seen = run(velocity, cells, over);
                const double transit = 37.23 / 1319;
                const double bound = scenarios::height_error(cells, transit, over * transit);
                const double error =
                    std::max(std::abs(seen.highest - exact.highest), std::abs(seen.lowest - exact.lowest));
                CHECK(error <= bound);
                nearest = std::min(nearest, bound / error);
            }
    MESSAGE("bound over error, the least: ", nearest);
    CHECK(nearest < 1.5); // and it is not said so wide that it says nothing
}

TEST_CASE("the rule of the cells keeps heights within 2 %, unless it stops at 64 cells") {
    for (const double transit : {0.02, 0.05, 0.1, 0.2, 0.5, 2.0})
        for (const double fastest : {0.0, 0.05, 0.2, 1.0, 4.0}) {
            const auto cells = scenarios::cells_for(transit, fastest);
            CHECK(cells >= 8);
            CHECK(cells <= 64);
            CHECK(scenarios::height_error(cells, transit, fastest) <= scenarios::height_bound);
        }
    CHECK(scenarios::height_error(64, 1, 0)
          < scenarios::height_bound);          // so that it never does for their sake
    CHECK(scenarios::cells_for(1e-3, 1) == 1); // short against both: lumped
}
