// N. Joukowsky (1898): a flow stopped in less than 2L/a raises the pressure by rho a dV. The rig is that of
// bergant_rig.cpp; closures of 9 ms and a true jump, which no real valve makes.
#include "tests/pipe_line.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <tuple>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

struct Rise {
    double plateau = 0; ///< mean over the middle of the first 2L/a, of Joukowsky's
    double first = 0;   ///< highest of the first 0.8 2L/a
    double highest = 0; ///< over ten 2L/a
    double lowest = 0;  ///< the same; Joukowsky's reflection is -1
    std::size_t steps = 0;
};

Rise close(double velocity, std::size_t cells, double over) {
    auto line = bergant_rig(velocity, cells);
    line.pipe.friction_factor = 1e-12; // none, so that nothing but the scheme departs from +-1
    line.demand.then({0, 0, over});
    LineRun run(line);
    const double joukowsky = models::joukowsky_rise(line.pipe.density, line.pipe.wave_speed, velocity);
    const double round_trip = 2 * line.pipe.length / line.pipe.wave_speed;
    Rise rise;
    double sum = 0, samples = 0;
    run.run(10 * round_trip, 1e-4, 1e-5, [&](double t) {
        const double p = (run.valve_pressure() - line.reservoir.start()) / joukowsky;
        rise.highest = std::max(rise.highest, p);
        rise.lowest = std::min(rise.lowest, p);
        if (t < 0.8 * round_trip)
            rise.first = std::max(rise.first, p);
        if (t > 0.4 * round_trip && t < 0.8 * round_trip) {
            sum += p;
            ++samples;
        }
    });
    rise.plateau = sum / samples;
    rise.steps = run.counts.steps;
    return rise;
}

} // namespace

TEST_CASE(
    "a closure of 9 ms raises the pressure by Joukowsky's value within 1 % and overshoots by less than 5 %") {
    for (const double velocity : {0.1, 0.3})
        for (const std::size_t cells : {32u, 64u}) {
            CAPTURE(velocity);
            CAPTURE(cells);
            const auto rise = close(velocity, cells, 9e-3);
            CHECK(rise.plateau == relative(1.0, 0.01));
            CHECK(rise.highest < 1.05);
            CHECK(rise.lowest > -1.05);
            MESSAGE(velocity, " m/s, ", cells, " cells: plateau ", rise.plateau, ", highest ", rise.highest,
                    ", lowest ", rise.lowest, ", ", rise.steps, " steps");
        }
}

TEST_CASE("a sudden stop overshoots Joukowsky's value by at most 1 % from 64 cells on") {
    // A true jump is spread over one cell by the end and over a few by the limiter: what is left of the overshoot falls with
    // the number of cells (models/upwind.h). 0.1 m/s is 1.3 bar, 0.3 m/s 4 bar; a lower wave is let overshoot by more.
    for (const auto& [velocity, cells, most] : {std::tuple{0.1, 16u, 0.04},
                                                {0.1, 32u, 0.02},
                                                {0.1, 64u, 0.01},
                                                {0.1, 128u, 0.01},
                                                {0.3, 16u, 0.015},
                                                {0.3, 32u, 0.01},
                                                {0.3, 64u, 0.01},
                                                {0.3, 128u, 0.01}}) {
        CAPTURE(velocity);
        CAPTURE(cells);
        const auto rise = close(velocity, cells, 0);
        CHECK(rise.plateau == relative(1.0, 0.003));
        CHECK(rise.first < 1 + most); // until the wave is back: the end alone
        CHECK(rise.highest < 1 + most);
        CHECK(rise.lowest > -1 - most);
        MESSAGE(velocity, " m/s, ", cells, " cells: first ", rise.first, ", highest ", rise.highest,
                ", lowest ", rise.lowest, ", ", rise.steps, " steps");
    }
}
