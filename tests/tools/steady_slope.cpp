/// Local slopes of the steady outlet pressure against steady states found anew on either side.
#include "tools/studies/steady_slope.h"
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/started_run.h"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

using namespace needleturn;

namespace {

/// The nursery by night, its last event's flow from the start, with a key at a value.
scenarios::Scenario with(const std::string& key, double value, const std::string& unit) {
    const std::vector<scenarios::Override> overrides{{key + "=" + std::to_string(value) + " " + unit}};
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/nursery-night.toml", overrides,
                                    hardware_folders());
}

double outlet_pressure(const scenarios::Scenario& scenario) {
    const StartedRun run(scenario, scenarios::build(scenario), {});
    std::vector<double> values(run.station.states().size() + run.station.drives().size());
    run.system.values(0, run.y.data(), values.data());
    return values[run.station.outlet()];
}

} // namespace

TEST_CASE("the local slope of the steady outlet pressure is that of steady states a little apart") {
    const struct {
        const char* key;
        const char* unit;
        double middle, step;
    } keys[] = {{"main.set_pressure", "bar", 4.5, 0.01},
                {"supply.pressure", "bar", 7.5, 0.01},
                {"main.override.main_valve.spring_rate", "N/mm", 3, 0.01},
                {"main.override.pilot.spring_rate", "N/mm", 100, 1}};
    for (const auto& [key, unit, middle, step] : keys) {
        CAPTURE(key);
        const auto below = with(key, middle - step, unit), here = with(key, middle, unit),
                   above = with(key, middle + step, unit);
        const double slope = steady_slope(below, here, above, step, 0);
        const double expected = (outlet_pressure(above) - outlet_pressure(below)) / (2 * step);
        CHECK(std::abs(expected) > 1); // Pa per unit: a key that matters
        // Differences over 2 steps: their own error is of the order of (step / middle)^2.
        CHECK(slope == doctest::Approx(expected).epsilon(1e-3));
    }
}

TEST_CASE("needles, trapped air and storage do not move the steady outlet pressure") {
    const struct {
        const char* key;
        const char* unit;
        double middle, step;
    } keys[] = {{"main.opening_control", "turns", 3, 0.1},
                {"main.air_in_cover", "mL", 30, 1},
                {"downstream.far_end_storage", "mL/bar", 150, 5}};
    for (const auto& [key, unit, middle, step] : keys) {
        CAPTURE(key);
        const double slope = steady_slope(with(key, middle - step, unit), with(key, middle, unit),
                                          with(key, middle + step, unit), step, 0);
        CHECK(std::abs(slope) < 1e-2); // Pa per unit: the rounding of rates whose terms cancel
    }
}
