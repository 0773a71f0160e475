// Column separation by the discrete gas cavity of E. B. Wylie, "Simulation of vaporous and gaseous cavitation",
// J. Fluids Eng. 106:307 (1984), doi 10.1115/1.3243120 (from memory). A tube of 37.23 m, 22.1 mm, is shut at its upstream
// end while 1 m/s run towards a tank at 32 m. Reference: the same cavity on a method of characteristics with 32 to 512
// reaches, run outside this project: a short pulse to 228.7 m at 0.232 s, far above the 32 + 134 m of Joukowsky.
#include "tests/pipe_line.h"
#include "tests/relative.h"
#include "tools/studies/second_grid.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

struct Parting {
    double highest = 0, highest_at = 0; ///< m, s
    double first_return = 0;            ///< m, highest before 0.2 s
    double lowest_abs = 1e9;            ///< Pa, anywhere
    double largest = 0;                 ///< m3, cavity at the valve
    double opens = 0, shuts = 0;        ///< s
};

Parting part(std::size_t cells) {
    auto line = bergant_rig(0, cells);
    line.pipe.friction_factor = 0.03;
    const double flow = line.pipe.area() * 1.0;
    line.demand = Schedule(-flow); // comes in at the valve and runs back to the reservoir
    line.demand.then({0, 0, 0});
    LineRun run(line);
    const double weight = line.pipe.density * models::gravity;
    Parting parting;
    run.run(0.35, 1e-4, 1e-4, [&](double t) {
        const double head = run.valve_pressure() / weight;
        if (head > parting.highest) {
            parting.highest = head;
            parting.highest_at = t;
        }
        if (t < 0.2)
            parting.first_return = std::max(parting.first_return, head);
        parting.lowest_abs =
            std::min(parting.lowest_abs, run.lowest_pressure() + models::atmospheric_pressure);
        const auto& storage = run.station().storage(0);
        const bool parted = run.valve_pressure() < storage.pressure(storage.vapour_gauge());
        if (parted && parting.opens == 0)
            parting.opens = t;
        if (!parted && parting.opens > 0 && parting.shuts == 0)
            parting.shuts = t;
        parting.largest = std::max(parting.largest, storage.gas_volume(run.valve_pressure()));
    });
    return parting;
}

} // namespace

TEST_CASE("a column shut off upstream parts, returns, and strikes a short pulse above Joukowsky's value") {
    double before = 0;
    for (const std::size_t cells : {32u, 64u, 128u, 256u}) {
        CAPTURE(cells);
        const auto parting = part(cells);
        MESSAGE(cells, " cells: highest ", parting.highest, " m at ", parting.highest_at, " s, first return ",
                parting.first_return, " m, parted from ", parting.opens, " to ", parting.shuts, " s, ",
                1e6 * parting.largest, " mL, lowest ", parting.lowest_abs, " Pa abs");
        CHECK(parting.lowest_abs > 2339 - 1); // Pa: vapour pressure
        CHECK(parting.opens < 2e-3);          // the cavity opens at once ...
        CHECK(parting.shuts > 0.1);           // ... and stays for some travels of the wave
        CHECK(parting.largest > 5e-6);
        CHECK(parting.first_return == relative(152, 0.05)); // the reference's first return
        CHECK(parting.highest > 32 + 134);                  // above Joukowsky's
        CHECK(parting.highest_at == relative(0.232, 0.03));
        CHECK(parting.highest
              > before); // the pulse is shorter than coarse cells can show: it grows with N ...
        CHECK(parting.highest < 228.7 * 1.02); // ... towards the reference, from below
        // What two grids say of it (tools/studies/second_grid.h) holds the reference.
        if (before > 0)
            CHECK(std::abs(228.7 - parting.highest) < height_spread(parting.highest, before));
        before = parting.highest;
    }
    CHECK(before == relative(228.7, 0.05)); // with 256 cells
}
