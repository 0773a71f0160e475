// What must hold in a line of several pipes, whatever it is made of: a check lets nothing back, vessels hold what they
// take, branches and consumers share one balance.
#include "scenarios/build.h"
#include "scenarios/read_scenario.h"
#include "sim/modes.h"
#include "tests/places.h"
#include "tools/studies/flow_map.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <initializer_list>
#include <string>
#include <vector>

using namespace needleturn;

namespace {

scenarios::Scenario committed(const char* name, std::initializer_list<const char*> changes) {
    std::vector<scenarios::Override> overrides;
    for (const auto* change : changes)
        overrides.push_back({change});
    return scenarios::read_scenario(std::filesystem::path(tests::source_folder()) / "scenarios" / name,
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

TEST_CASE("a non-return valve lets no water back into a pump that has stopped and an open end lets litres"
          * doctest::test_suite("long")) {
    const auto stopped = simulate(committed("nursery-pump-trip.toml", {"run.duration=6 s"}));
    const auto passes =
        simulate(committed("nursery-pump-trip.toml", {"run.duration=6 s", "supply.backflow=passes"}));
    CHECK(backwards(signal(stopped, "supply_meter.volume")) < 1e-9);
    CHECK(backwards(signal(passes, "supply_meter.volume")) > 1e-3);
    // While the pump runs the check is in nobody's way: 2.5 velocity heads of 1 m/s are 1.3 kPa.
    CHECK(signal(stopped, "inlet.pressure").front()
          == doctest::Approx(signal(passes, "inlet.pressure").front()).epsilon(0.01));
}

TEST_CASE("water behind the check is kept above vapour pressure everywhere and at all times"
          * doctest::test_suite("long")) {
    const auto outcome = simulate(committed("nursery-pump-trip.toml", {}));
    const double vapour =
        1705.8 - models::atmospheric_pressure; // Pa gauge at 15 degC, the scenario's (IAPWS, from memory)
    for (const auto& pipe : outcome.record.envelope) {
        CAPTURE(pipe.pipe);
        const auto& lowest = std::get<std::vector<double>>(pipe.table.at(1).rows);
        CHECK(*std::ranges::min_element(lowest) > vapour - 1);
    }
}

TEST_CASE("a line with branches and a vessel and a consumer ahead of the station gives out what it takes in"
          * doctest::test_suite("long")) {
    const auto scenario = committed("nursery-branches.toml", {});
    const auto outcome = simulate(scenario);
    double delivered = 0;
    for (const auto* meter : {"demand_meter.volume", "boiler_meter.volume", "zone_1_meter.volume",
                              "zone_2_meter.volume", "mist_meter.volume"})
        delivered += signal(outcome, meter).back();
    const double taken = signal(outcome, "supply_meter.volume").back();
    // What the line holds more than at the start: in the vessel by the volume of its gas; in pipes and points by their storage and
    // the pressures at their ends.
    const auto& gas = signal(outcome, "vessel.gas_volume");
    double stored = gas.front() - gas.back();
    const models::Station station(scenarios::build(scenario).parts);
    const auto& parts = station.parts();
    const auto rise = [&](const std::string& point) {
        const auto& pressure = signal(outcome, (point + ".pressure").c_str());
        return pressure.back() - pressure.front();
    };
    for (std::size_t i = 0; i < parts.points.size(); ++i)
        stored += station.storage(i).per_pascal * rise(parts.points[i].name);
    for (std::size_t i = 0; i < parts.pipes.size(); ++i) {
        const auto& run = parts.pipes[i];
        double cells = 0;
        for (std::size_t k = 0; k < station.pipe(i).pressure.size(); ++k)
            cells += station.pipe_cell(i, k).per_pascal;
        stored +=
            cells * 0.5
            * (rise(run.from ? parts.points[*run.from].name : "source") + rise(parts.points[run.to].name));
    }
    // 0.17 m3 run through; waves still on their way at the end hold a hundredth of a bar in 4e-9 m3/Pa of pipe.
    CHECK(taken > 0.1);
    CHECK(std::abs(taken - delivered - stored) < 2e-5);
}

TEST_CASE("a consumer on the inlet side that opens pulls the inlet down and the station holds its outlet"
          * doctest::test_suite("long")) {
    auto scenario = committed("nursery-branches.toml", {});
    scenario.run.duration = 10;
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

TEST_CASE("the leading modes of a long line are those of its whole spectrum" * doctest::test_suite("long")) {
    for (const auto* name : {"nursery-branches.toml", "nursery-pump-trip.toml"})
        for (const double opening : {0.5, 3.0}) {
            CAPTURE(name);
            CAPTURE(opening);
            const auto scenario = committed(
                name, {opening < 1 ? "main.opening_control=1/2 turn" : "main.opening_control=3 turns"});
            const SteadyStates states(scenario);
            REQUIRE(states.system().size()
                    > static_cast<std::size_t>(sim::all_at_once)); // else both ways are one
            for (const double flow : {0.3e-3, 1e-3, 2.5e-3, 7e-3}) {
                CAPTURE(flow);
                const Eigen::VectorXd y = states.at(flow);
                const auto all = sim::find_modes(states.system(), flow, y);
                const auto leading = sim::leading_modes(states.system(), flow, y);
                const auto grows = [](const sim::Mode& mode) { return mode.grows(); };
                CHECK(std::ranges::count_if(all, grows) == std::ranges::count_if(leading, grows));
                const auto worst = sim::worst_of(all), found = sim::worst_of(leading);
                CHECK(std::abs(worst.eigenvalue - found.eigenvalue) < 1e-6 * std::abs(worst.eigenvalue));
            }
        }
}
