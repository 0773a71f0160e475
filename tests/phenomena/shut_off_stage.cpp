// A stage that is shut off on both sides: its screw does not decide whether the others hunt.
#include "scenarios/read_scenario.h"
#include "tests/relative.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double bar = 1e5; // Pa

/// The school with its intermediate stage shut off and set to so many bar, in the dead zone of the other two.
EventVerdict with_intermediate_shut(double set, bool outlet_too) {
    std::vector<scenarios::Override> changes{{"intermediate.cock=0"},
                                             {fmt::format("intermediate.set_pressure={} bar", set)},
                                             {"demand.start=0.3 L/s"},
                                             {R"(demand.steps=[{ at = "1 s", to = "2 L/s", over = "1 s" }])"},
                                             {"run.duration=20 s"}};
    if (outlet_too)
        changes.push_back({"intermediate.outlet_cock=0"});
    const auto scenario =
        scenarios::read_scenario(NEEDLETURN_SOURCE_DIR "/scenarios/school-staged.toml", changes);
    return simulate(scenario, {}, Signals::judged).verdict.back();
}

} // namespace

TEST_CASE("behind an inlet cock alone a shut stage still acts on the outlet through its diaphragm") {
    CHECK(with_intermediate_shut(3.7, false).hunts());
    CHECK_FALSE(with_intermediate_shut(4.3, false).hunts());
}

TEST_CASE("shut off on both sides a stage does not decide by its screw whether the others hunt"
          * doctest::test_suite("long")) {
    const auto first = with_intermediate_shut(3.7, true);
    CHECK(first.hunts());
    CHECK(first.swing() > bar);
    for (const double set : {4.0, 4.3, 4.6}) {
        CAPTURE(set);
        const auto other = with_intermediate_shut(set, true);
        CHECK(other.hunts());
        // What weeps through shut cocks is nothing here: what is left is the tolerance of the run.
        CHECK(other.swing() == relative(first.swing(), 1e-3));
        CHECK(other.hunting.frequency == relative(first.hunting.frequency, 1e-3));
    }
}
