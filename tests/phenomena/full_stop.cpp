// Everything shuts behind a station: what the closing control, the downstream main and an expansion vessel make of it.
// Common practice, no source: surge travels downstream when the valve closes too slowly; longer mains make it worse;
// a vessel tames it.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>

#include <filesystem>
#include <initializer_list>
#include <string>
#include <vector>

namespace {

using namespace needleturn;

constexpr double bar = 1e5;

/// nursery-stop: 8 L/s stop, behind 60 m of DN80.
scenarios::Scenario stop(std::initializer_list<const char*> changes) {
    std::vector<scenarios::Override> overrides{{"run.duration=8 s"}, {"demand.steps.1.over=2 s"}};
    for (const auto* change : changes)
        overrides.push_back({change});
    return scenarios::read_scenario(
        std::filesystem::path(tests::source_folder()) / "scenarios/nursery-stop.toml", overrides);
}

/// Highest outlet pressure after the stop, bar.
double peak(const scenarios::Scenario& scenario) {
    const auto outcome = simulate(scenario, {}, Signals::judged);
    REQUIRE(outcome.verdict.size() == 2);
    return outcome.verdict[1].highest / bar;
}

} // namespace

TEST_CASE("a full stop of demand sends more surge downstream, the more the closing control is shut") {
    const double open = peak(stop({"main.closing_control=6 turns"})),
                 half = peak(stop({"main.closing_control=2 turns"})),
                 nearly_shut = peak(stop({"main.closing_control=1/2 turn"}));
    MESSAGE("open ", open, ", half ", half, ", nearly shut ", nearly_shut, " bar");
    CHECK(half > open + 0.3);
    CHECK(nearly_shut > half + 1);
    // A valve that does not close in time lets the outlet see the whole supply, 7.5 bar, and what the column adds.
    CHECK(open < 7.5);
    CHECK(nearly_shut > 7.5);
}

TEST_CASE("the longer the downstream main, the higher the surge of the same stop") {
    double before = 0;
    for (const std::string length : {"downstream.pipe.length=20 m", "downstream.pipe.length=60 m",
                                     "downstream.pipe.length=180 m", "downstream.pipe.length=500 m"}) {
        CAPTURE(length);
        const double now = peak(stop({length.c_str()}));
        MESSAGE(length, ": ", now, " bar");
        CHECK(now > before + 0.1);
        before = now;
    }
}

TEST_CASE("an expansion vessel tames the surge, a larger one more; one charged above the peak does nothing") {
    const auto with = [](double volume, double precharge) {
        auto scenario = stop({"main.closing_control=1/4 turn", "demand.steps.1.over=1 s"});
        if (volume > 0)
            scenario.downstream.vessels = {{volume, precharge, scenarios::Vessel::At::far_end}};
        return peak(scenario);
    };
    const double none = with(0, 0), small = with(8e-3, 3.5 * bar), large = with(50e-3, 3.5 * bar);
    MESSAGE("none ", none, ", 8 L ", small, ", 50 L ", large, " bar");
    CHECK(small < none - 0.3);
    CHECK(large < small - 0.3);
    // The bladder is on the wall of its vessel, which gives 1e-8 of its volume per pascal: a little softer than pipe.
    CHECK(with(8e-3, 20 * bar) == doctest::Approx(none).epsilon(0.02));
}
