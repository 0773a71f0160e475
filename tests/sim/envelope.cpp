#include "sim/envelope.h"

#include "sim/integrate.h"
#include "sim/system.h"
#include "tests/sim/small_model.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace needleturn;

namespace {

/// y1'' = -y1 with y1(0) = 0, y2 = y1' : a sine of amplitude 1, and a drive that nothing reads.
const auto oscillator = tests::small_model<1>(std::array{1.0, 1.0}, [](const auto& v) {
    using S = std::decay_t<decltype(v[0])>;
    return std::array<S, 2>{v[1], -v[0]};
});

struct Seen {
    sim::Envelope<sim::System<std::decay_t<decltype(oscillator)>>> envelope;
    double highest_accepted = 0; ///< of y1 at the ends of the steps
};

Seen seen(double end, const Schedule& drive) {
    sim::System system(oscillator, {drive});
    Eigen::VectorXd y(2);
    y << 0, 1;
    Seen result{{system, {0, 1, 2}, 0, y}};
    sim::Counts counts;
    sim::integrate(system, y, 0, end, {1e-4}, counts, [&](const auto& stepper) {
        result.envelope(stepper);
        result.highest_accepted = std::max(result.highest_accepted, stepper.current_state()[0]);
    });
    return result;
}

} // namespace

TEST_CASE("an envelope finds a crest that lies within a step") {
    // Eight looks at a quarter of a step each: a crest between two of them is missed by 1 - cos(a quarter of half a
    // step); the steps of this tolerance are shorter than 1 rad, so by less than 0.8 %.
    const auto run = seen(2.5 * 3.14159, Schedule(0));
    CHECK(run.envelope.highest()[0] > 0.992);
    CHECK(run.envelope.highest()[0] < 1.001); // and makes none
    CHECK(run.envelope.highest()[0] >= run.highest_accepted);
    CHECK(run.envelope.lowest()[0] < -0.992);
    CHECK(run.envelope.highest()[1] == 1); // where it began
}

TEST_CASE("an envelope watches drives as well, through their ramps") {
    Schedule drive(3);
    drive.then({1, 5, 0.5});
    drive.then({2, -1, 0});
    const auto run = seen(3, drive);
    CHECK(run.envelope.highest()[2] == doctest::Approx(5).epsilon(1e-12));
    CHECK(run.envelope.lowest()[2] == doctest::Approx(-1).epsilon(1e-12));
}

TEST_CASE("before the first step an envelope is what the run starts from") {
    sim::System system(oscillator, {Schedule(7)});
    Eigen::VectorXd y(2);
    y << 0.25, -0.5;
    const sim::Envelope envelope(system, {0, 2}, 0, y);
    CHECK(envelope.lowest() == std::vector{0.25, 7.0});
    CHECK(envelope.highest() == std::vector{0.25, 7.0});
}
