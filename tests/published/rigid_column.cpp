// A rigid column of water: its start-up (E. B. Wylie and V. L. Streeter, Fluid Transients in Systems, 1993, from memory)
// and its swing against a pocket of air. The figures are hand calculations from the closed forms.
#include "models/laws/air.h"
#include "scenarios/units.h"
#include "tests/pipe_line.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <numbers>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

Line rigid(double length, double bore) {
    Line line;
    line.pipe.length = length;
    line.pipe.bore = bore;
    line.pipe.wave_speed = std::numeric_limits<double>::infinity();
    line.pipe.density = 999;
    line.pipe.viscosity = 1.1e-3;
    line.pipe.friction_factor = 0.02;
    line.valve_storage = 1e-12; // as good as none
    return line;
}

} // namespace

TEST_CASE("a column starts up to 99 % of its final velocity in 2.64665 L V0 / (g H0)") {
    auto line = rigid(500, 0.1);
    const double head = 30, pressure = 999 * models::gravity * head;
    line.reservoir = Schedule(pressure);
    line.draws = false;
    line.demand = Schedule(0);
    // Outlets so large that the pipe is all the resistance: a hundredth of a per cent of it is theirs.
    const double final_flow = line.pipe.area() * std::sqrt(2 * models::gravity * head * 0.1 / (0.02 * 500));
    line.demand.then({0, 100 * final_flow / std::sqrt(pressure), 0});
    LineRun run(line);
    double reached = 0;
    run.run(60, 1e-3, 1e-7, [&](double t) {
        if (reached == 0 && run.value(run.station().pipe(0).flow[0]) >= 0.99 * final_flow)
            reached = t;
    });
    const double velocity = final_flow / line.pipe.area();
    CHECK(reached == relative(2.64665 * 500 * velocity / (models::gravity * head), 0.005));
}

TEST_CASE(
    "100 m of water in 100 mm pipe swing against 1 L of air at 5 bar absolute with a period of 0.914833 s") {
    auto line = rigid(100, 0.1);
    line.pipe.friction_factor = 1e-9;
    const double pressure = 5e5 - models::atmospheric_pressure;
    line.reservoir = Schedule(pressure);
    line.reservoir.then({0, pressure + 200, 0}); // a swing so small that the air is a spring
    line.demand = Schedule(0);
    line.pockets = {{"air", 0, models::free_air_of(1e-3, pressure, 1.2), 1.2,
                     scenarios::parse_quantity("1000 Kv", scenarios::Dimension::capacity)}};
    LineRun run(line);
    std::vector<double> upward;
    double before = 0;
    run.run(10, 1e-4, 1e-8, [&](double t) {
        const double swing = run.valve_pressure() - (pressure + 200);
        if (before < 0 && swing >= 0)
            upward.push_back(t);
        before = swing;
    });
    REQUIRE(upward.size() > 8);
    CHECK((upward.at(8) - upward.at(0)) / 8 == relative(0.914833, 0.005));
}
