// Losses of fittings in a pipe by hand: K velocity heads, or the Darcy loss of an equivalent length. The K of a 90 degree
// elbow is that of a water supply handbook's table of special losses (screwed, short radius: 0.9; read at
// what-when-how.com, Public Water Systems, table 26-3).
#include "scenarios/scenario.h"
#include "tests/pipe_line.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <cmath>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

models::Pipe pipe(double factor) {
    models::Pipe pipe;
    pipe.length = 30;
    pipe.bore = 0.1;
    pipe.wave_speed = 1200;
    pipe.density = 999;
    pipe.viscosity = 1.1e-3;
    pipe.roughness = 0.045e-3;
    pipe.friction_factor = factor;
    pipe.cells = 10;
    return pipe;
}

constexpr double velocity = 2; // m/s

/// Pa, what the whole pipe takes at it.
double drop(const models::Pipe& pipe) { return pipe.steady_drop(velocity * pipe.area()); }

} // namespace

TEST_CASE("an elbow takes 0.9 velocity heads") { CHECK(scenarios::elbow_loss == 0.9); }

TEST_CASE("four elbows and 2.5 velocity heads take 12.1878 kPa more at 2 m/s whatever the law of friction") {
    // (4 x 0.9 + 2.5) x 999 x 2^2 / 2 = 12187.8 Pa
    for (const double factor : {0.0, 0.02}) {
        CAPTURE(factor);
        auto fitted = pipe(factor);
        fitted.loss_coefficient = 4 * scenarios::elbow_loss + 2.5;
        CHECK(drop(fitted) - drop(pipe(factor)) == relative(12187.8, 1e-9));
        CHECK(fitted.steady_drop(-velocity * fitted.area()) == relative(-drop(fitted), 1e-12));
    }
    // With f = 0.02 in all: 0.02 x 30 / 0.1 x 999 x 2 + 12187.8 = 24175.8 Pa
    auto fitted = pipe(0.02);
    fitted.loss_coefficient = 6.1;
    CHECK(drop(fitted) == relative(24175.8, 1e-9));
}

TEST_CASE("an equivalent length of 6 m takes a fifth of what a pipe of 30 m takes") {
    for (const double factor : {0.0, 0.02}) {
        CAPTURE(factor);
        auto fitted = pipe(factor);
        fitted.equivalent_length = 6;
        CHECK(drop(fitted) == relative(1.2 * drop(pipe(factor)), 1e-12));
    }
}

TEST_CASE("water runs steadily through a pipe with fittings at the pressure of the hand calculation") {
    Line line;
    line.pipe = pipe(0.02);
    line.pipe.loss_coefficient = 6.1;
    line.pipe.equivalent_length = 6;
    line.reservoir = Schedule(5e5);
    line.demand = Schedule(velocity * line.pipe.area());
    LineRun run(line);
    double last = 0;
    run.run(5, 0.1, 1e-7, [&](double) { last = run.valve_pressure(); });
    // 5e5 - (0.02 x 36 / 0.1 + 6.1) x 999 x 2 = 473426.6 Pa; the start is this steady state, to the stepper's tolerance.
    CHECK(std::abs(last - 473426.6) < 1);
}
