// What must hold in a line of several pipes, whatever it is made of: a check lets nothing back, vessels hold what they
// take, branches and consumers share one balance.
#include "scenarios/read_scenario.h"
#include "tests/relative.h"
#include "tools/simulate.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <initializer_list>

using namespace needleturn;
using tests::relative;

namespace {

scenarios::Scenario committed(const char* name, std::initializer_list<const char*> changes) {
    std::vector<scenarios::Override> overrides;
    for (const auto* change : changes)
        overrides.push_back({change});
    return scenarios::read_scenario(std::filesystem::path(NEEDLETURN_SOURCE_DIR) / "scenarios" / name,
                                    overrides);
}

const std::vector<double>& signal(const Outcome& outcome, const char* name) {
    return outcome.record.recording[name];
}

/// The most that a meter ever ran backwards, m3.
double backwards(const std::vector<double>& meter) {
    double most = 0, highest = meter.front();
    for (const double volume : meter) {
        highest = std::max(highest, volume);
        most = std::max(most, highest - volume);
    }
    return most;
}

} // namespace

TEST_CASE("a non-return valve lets no water back into a pump that has stopped, an open end lets litres") {
    const auto stopped = simulate(committed("nursery-pump-trip.toml", {"run.duration=6 s"}));
    const auto passes =
        simulate(committed("nursery-pump-trip.toml", {"run.duration=6 s", "supply.backflow=passes"}));
    CHECK(backwards(signal(stopped, "supply_meter.volume")) < 1e-9);
    CHECK(backwards(signal(passes, "supply_meter.volume")) > 1e-3);
    // While the pump runs the check is in nobody's way: 2.5 velocity heads of 1 m/s are 1.3 kPa.
    CHECK(signal(stopped, "inlet.pressure").front()
          == doctest::Approx(signal(passes, "inlet.pressure").front()).epsilon(0.01));
}

TEST_CASE("water behind the check is kept above vapour pressure, everywhere and at all times") {
    const auto outcome = simulate(committed("nursery-pump-trip.toml", {}));
    const double vapour = 2339 - models::atmospheric_pressure; // Pa gauge at 20 degC (IAPWS)
    for (const auto& pipe : outcome.record.envelope) {
        CAPTURE(pipe.pipe);
        const auto& lowest = std::get<std::vector<double>>(pipe.table.at(1).rows);
        // The source itself is at 0 bar; 5 Pa is what the water of build.cpp may differ from IAPWS-95 by.
        CHECK(*std::ranges::min_element(lowest) > vapour - 5);
    }
}

TEST_CASE("a line with branches, a vessel and a consumer ahead of the station gives out what it takes in") {
    const auto outcome =
        simulate(committed("nursery-branches.toml", {"run.duration=10 s", "supply.consumer.1.steps.1.at=6 s",
                                                     "downstream.branch.2.demand.steps.1.at=8 s"}));
    double delivered = 0;
    for (const auto* meter : {"demand_meter.volume", "boiler_meter.volume", "zone_1_meter.volume",
                              "zone_2_meter.volume", "mist_meter.volume"})
        delivered += signal(outcome, meter).back();
    const double taken = signal(outcome, "supply_meter.volume").back();
    // What the line holds more or less than at the start: half a litre in the vessel of 20 L, less than 50 mL elsewhere.
    const auto& vessel = signal(outcome, "vessel.pressure");
    const auto gas = [](double pressure) { // L, from the precharge of 3 bar, n = 1.2
        return 20
               * std::pow((3e5 + models::atmospheric_pressure) / (pressure + models::atmospheric_pressure),
                          1 / 1.2);
    };
    const double stored = 1e-3 * (gas(vessel.front()) - gas(vessel.back()));
    CHECK(std::abs(taken - delivered - stored) < 5e-5);
    CHECK(taken > 0.05);
}

TEST_CASE("a consumer on the inlet side that opens pulls the inlet down and the station holds its outlet") {
    auto scenario = committed("nursery-branches.toml", {"run.duration=10 s"});
    scenario.downstream.branches[0].demand.steps.clear();
    scenario.downstream.branches[1].demand.steps.clear();
    scenario.supply.consumers[0].demand.start = 0;
    scenario.supply.consumers[0].demand.steps = {{2, 4e-3, 0.5}};
    const auto outcome = simulate(scenario);
    const auto &inlet = signal(outcome, "inlet.pressure"), &outlet = signal(outcome, "outlet.pressure");
    // 4 L/s through 250 m of DN100 and 30 m of DN80: some tenths of a bar by Darcy.
    CHECK(inlet.front() - inlet.back() > 0.1e5);
    CHECK(std::abs(outlet.front() - outlet.back()) < 0.1e5);
}
