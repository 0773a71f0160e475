// Sound in water with gas bubbles. A. B. Wood, A Textbook of Sound (1930): the mixture has the mean density and the mean
// compressibility of its parts; gas isothermal, as E. B. Wylie and V. L. Streeter have it (both from memory).
#include "models/laws/storage.h"
#include "models/laws/wave_speed.h"
#include "sim/modes.h"
#include "tests/pipe_line.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

constexpr double density = 999.1, sound = 1466; // water at 15 degC

/// By the mean density and compressibility; gas of density 0 takes the part `share` of the volume at `pressure_abs`.
double wood(double share, double pressure_abs) {
    const double compressibility = share / pressure_abs + (1 - share) / (density * sound * sound);
    return 1 / std::sqrt(compressibility * density * (1 - share));
}

double here(double share, double pressure_abs) {
    return models::gassy_wave_speed(sound, density, share * pressure_abs, pressure_abs);
}

} // namespace

TEST_CASE(
    "waves in water with free gas run at the speed of Wood to the part that the gas has in the volume") {
    for (const double pressure : {1e5, 5e5})
        for (const double share : {1e-6, 1e-4, 1e-3, 1e-2}) {
            CAPTURE(pressure);
            CAPTURE(share);
            CHECK(here(share, pressure) == relative(wood(share, pressure), share));
        }
    // Textbooks show the fall to some 100 m/s with 1 % of the volume at atmospheric pressure (from memory).
    CHECK(here(0.01, 101325) == relative(100, 0.02));
}

TEST_CASE("a pipe whose water holds free gas swings at the quarter-wave of that speed") {
    // Closed at the valve, open at the reservoir: f = a_g / 4L. A swing so small that the gas is a spring.
    for (const double fraction : {1e-4, 1e-3, 1e-2}) {
        CAPTURE(fraction);
        auto line = bergant_rig(0, 64);
        line.trace_fraction = fraction;
        line.pipe.friction_factor = 1e-9;
        const double above_vapour =
            line.reservoir.start() + models::atmospheric_pressure - line.vapour_pressure_abs;
        const double speed = models::gassy_wave_speed(line.pipe.wave_speed, line.pipe.density,
                                                      fraction * models::atmospheric_pressure, above_vapour);
        line.pipe.gassy_speed = speed;
        LineRun run(line);
        double slowest = 0;
        for (const auto& mode : sim::find_modes(run.system(), 0, run.y))
            if (mode.oscillates() && (slowest == 0 || mode.frequency < slowest))
                slowest = mode.frequency;
        // 64 cells miss a quarter-wave by less than 1e-3 of its frequency; the end's storage is the rest.
        CHECK(slowest == relative(speed / (4 * line.pipe.length), 2e-3));
    }
}

TEST_CASE("a usual trace of gas alone decides from what pressure on a column counts as parted") {
    const models::GasTrace trace{models::trace_gas_fraction * models::atmospheric_pressure, 2339};
    const models::Storage clear{1e-9, 2e9, trace};
    auto gassy = clear;
    gassy.trace.strength *= 1e4;
    CHECK(gassy.parts_below() == clear.parts_below());
    CHECK(clear.parts_below() == clear.pressure(clear.vapour_gauge()));
    CHECK(gassy.pressure(gassy.vapour_gauge()) > 3e5); // where it would have been said of water at rest
}
