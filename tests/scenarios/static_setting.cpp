// A setting by the flowing pressure: the model itself, asked for the pressure of a trickle, must give it back.
#include "scenarios/static_setting.h"
#include "models/station.h"
#include "scenarios/build.h"
#include "sim/equilibrium.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <string>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

/// A stage that is alone on a level line, without air, and lets a trickle pass.
scenarios::Scenario trickling(const std::string& size) {
    const auto hardware = "main.hardware=pilot-operated/" + size;
    auto scenario = nursery({hardware.c_str(), "main.override={}", "downstream.air_pocket=0 mL",
                             "downstream.pipe.rise=0 m", "main.air_in_cover=0 mL"});
    auto& stage = scenario.stages.front();
    stage.check_valve.reset(); // it takes some of the pressure ahead of the outlet
    stage.sustaining_pressure.reset();
    scenario.demand.start = 1.5e-3 * stage.pilot_operated()->main_valve.seat_area / 5e-3;
    return scenario;
}

struct Gauges {
    double inlet = 0, outlet = 0; // Pa
};

Gauges at_rest(const scenarios::Scenario& scenario) {
    const auto installation = scenarios::build(scenario);
    const models::Station station(installation.parts);
    const sim::System system(station, installation.drives);
    std::vector<double> drives;
    for (const auto& drive : installation.drives)
        drives.push_back(drive.start());
    const auto guess = station.start(drives, std::vector{0.0});
    const auto y = sim::find_equilibrium(
        system, 0, Eigen::Map<const Eigen::VectorXd>(guess.data(), static_cast<Eigen::Index>(guess.size())));
    std::vector<double> values(station.states().size() + station.drives().size());
    system.values(0, y.data(), values.data());
    return {values[station.inlet()], values[station.outlet()]};
}

/// The spring and 10 % of the lift lower it a little further, pipe friction and knees hardly.
void check_flowing(double outlet) {
    CHECK(outlet == relative(4e5, 0.01));
    CHECK(outlet < 4e5);
}

} // namespace

TEST_CASE("a stage set by its flowing pressure begins to flow at that pressure") {
    for (const std::string size : {"DN50", "DN100", "DN200"}) {
        CAPTURE(size);
        auto scenario = trickling(size);
        auto& stage = scenario.stages.front();
        stage.set_pressure = scenarios::static_setting(*stage.pilot_operated(), 7.5e5, 4e5);
        check_flowing(at_rest(scenario).outlet);
    }
}

TEST_CASE("so does one whose sustaining pilot is hardly open and takes its share of the drop") {
    for (const std::string size : {"DN50", "DN100", "DN200"}) {
        CAPTURE(size);
        auto scenario = trickling(size);
        auto& stage = scenario.stages.front();
        const double inlet = at_rest(scenario).inlet, sustaining = inlet - 0.5e5;
        const double alone = scenarios::static_setting(*stage.pilot_operated(), inlet, 4e5);
        stage.sustaining_pressure = sustaining;
        stage.set_pressure = scenarios::static_setting(*stage.pilot_operated(), inlet, 4e5, sustaining);
        CHECK(stage.set_pressure > alone + 0.02e5);
        check_flowing(at_rest(scenario).outlet);
    }
}
