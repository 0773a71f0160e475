// Steady states of stages behind cocks: whichever are shut, at any demand; and of every committed scenario cut off from water.
#include "scenarios/build.h"
#include "scenarios/read_scenario.h"
#include "sim/equilibrium.h"
#include "tests/places.h"
#include "tests/relative.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

namespace {

using namespace needleturn;

const std::filesystem::path folder{tests::source_folder() + "/scenarios"};

struct Steady {
    std::vector<double> values, rates, signals;
    models::Station station;

    explicit Steady(const std::vector<scenarios::Override>& changes)
        : Steady(scenarios::read_scenario(folder / "school-staged.toml", changes)) {}
    explicit Steady(const scenarios::Scenario& scenario) : Steady(scenarios::build(scenario)) {}
    explicit Steady(scenarios::Installation installation) : station{std::move(installation.parts)} {
        const sim::System system(station, std::move(installation.drives));
        std::vector<double> drives;
        for (const auto& schedule : system.schedules())
            drives.push_back(schedule.start());
        const auto guess = station.start(drives, std::vector(station.parts().stages.size(), 0.0));
        const auto y = sim::find_equilibrium(
            system, 0,
            Eigen::Map<const Eigen::VectorXd>(guess.data(), static_cast<Eigen::Index>(guess.size())));
        values.resize(station.states().size() + station.drives().size());
        rates.resize(station.states().size());
        signals.resize(station.signals().size());
        system.values(0, y.data(), values.data());
        system.rates(0, y.data(), rates.data());
        station.observe(values, signals);
    }
    Steady(const Steady&) = delete;

    double signal(const std::string& name) const {
        const auto found = std::ranges::find(station.signals(), name, &Quantity::name);
        return signals[static_cast<std::size_t>(found - station.signals().begin())];
    }
};

} // namespace

TEST_CASE(
    "three stages have a steady state whichever of them are shut off by either cock or both and at any demand"
    * doctest::test_suite("long")) {
    const std::string names[] = {"main", "intermediate", "bypass"};
    using Cocks = std::vector<std::string>;
    for (const auto& cocks : {Cocks{".cock"}, Cocks{".outlet_cock"}, Cocks{".cock", ".outlet_cock"}})
        for (unsigned open = 0; open < 8; ++open)
            for (const double demand : {0.0, 0.02, 0.5, 1.0, 4.0, 12.0, 30.0}) { // L/s
                CAPTURE(cocks.front());
                CAPTURE(cocks.size());
                CAPTURE(open);
                CAPTURE(demand);
                std::vector<scenarios::Override> changes{{"demand.start=" + std::to_string(demand) + " L/s"},
                                                         {"demand.steps=[]"}};
                for (unsigned i = 0; i < 3; ++i)
                    for (const auto& cock : cocks)
                        changes.push_back({names[i] + cock + "=" + ((open >> i & 1) != 0 ? "1" : "0")});
                const Steady steady(changes);
                double through = 0;
                for (unsigned i = 0; i < 3; ++i) {
                    const double flow = steady.signal(names[i] + ".flow");
                    through += flow;
                    if ((open >> i & 1) == 0)
                        CHECK(std::abs(flow) < 1e-9); // m3/s: a millilitre in a quarter of an hour
                }
                const double beside = steady.signal("main.restriction_flow");
                // What leaves goes through the stages: to the rounding of flows that differences of pressures make.
                CHECK(std::abs(through + beside - steady.signal("demand.flow")) < 1e-9);
            }
}

TEST_CASE("every committed scenario has a steady state with all its cocks shut, and one without pressure at "
          "its source") {
    std::size_t looked_at = 0;
    for (const auto& file : std::filesystem::directory_iterator(folder)) {
        if (file.path().extension() != ".toml")
            continue;
        CAPTURE(file.path().filename().string());
        const auto as_it_is = scenarios::read_scenario(file.path(), {});
        // Water above an open outlet drains through it and is no rest before the line is empty, which is not modelled.
        if (std::ranges::any_of(as_it_is.downstream.branches,
                                [](const auto& branch) { return branch.pipe.rise > 0; }))
            continue;
        std::vector<scenarios::Override> shut;
        for (const auto& stage : as_it_is.stages)
            for (const char* cock : {".cock=0", ".outlet_cock=0"})
                shut.push_back({stage.name + cock});
        auto dry =
            as_it_is; // the reader refuses outlets above what the supply lifts water to; the model need not
        dry.supply.pressure = 0;
        for (const auto& scenario : {scenarios::read_scenario(file.path(), shut), dry}) {
            const Steady steady(scenario);
            for (const auto& stage : scenario.stages)
                CHECK(std::abs(steady.signal(stage.name + ".flow")) < 1e-9); // m3/s
            CHECK(std::abs(steady.signal("demand.flow")) < 1e-9);
            // Nothing draws on the outlet but open taps, and they only let go of what stands above them.
            CHECK(steady.values[steady.station.outlet()] > -1.01e5);
        }
        ++looked_at;
    }
    CHECK(looked_at > 10);
}

TEST_CASE("with nothing drawn a station rests at its setting whatever its size and its supply") {
    // Any pressure above it would be a state of rest, too: nothing leaves, and the seats are shut.
    for (const auto* size : {"DN65", "DN80", "DN150", "DN200"})
        for (const double supply : {5.0, 6.0, 7.0, 7.4, 7.5, 7.6, 8.0, 9.0, 12.0}) { // bar
            CAPTURE(size);
            CAPTURE(supply);
            const Steady steady(scenarios::read_scenario(
                folder / "nursery-night.toml",
                std::vector<scenarios::Override>{{"demand.start=0 L/s"},
                                                 {"demand.steps=[]"},
                                                 {fmt::format("main.hardware=pilot-operated/{}", size)},
                                                 {fmt::format("supply.pressure={} bar", supply)}}));
            // It presses the seat of its pilot shut, and the disc, which gives, moves a little water.
            CHECK(steady.values[steady.station.outlet()] > 4.5e5 - 1); // Pa
            CHECK(steady.values[steady.station.outlet()] < 4.6e5);
        }
}

TEST_CASE("where a shut cock weeps and nothing is drawn the pressure rises to the setting and no further"
          * doctest::test_suite("long")) {
    const auto rest_of = [](const char* file, std::vector<scenarios::Override> more) {
        more.push_back({"demand.start=0 L/s"});
        more.push_back({"demand.steps=[]"});
        const Steady steady(scenarios::read_scenario(folder / file, more));
        return steady.values[steady.station.outlet()];
    };
    for (const auto* water : {"water.free_gas=0", "water.free_gas=0.001"})
        for (const double supply : {5.0, 6.0, 7.5, 9.0, 12.0, 15.0}) { // bar
            CAPTURE(water);
            CAPTURE(supply);
            const scenarios::Override inlet{fmt::format("supply.pressure={} bar", supply)};
            CHECK(rest_of("nursery-bled.toml", {{"main.cock=0"}, inlet, {water}})
                  == needleturn::tests::relative(4.5e5, 1e-3));
        }
    // Of several the highest setting: the bypass's.
    CHECK(rest_of("school-staged.toml", {{"bypass.cock=0"}}) == needleturn::tests::relative(4.8e5, 5e-3));
    CHECK(rest_of("school-staged.toml", {{"bypass.cock=0"}, {"main.cock=0"}})
          == needleturn::tests::relative(4.8e5, 5e-3));
}

TEST_CASE("a cover emptied below nothing is no state of rest, however much its diaphragm gives") {
    for (const double gives : {2.0, 5.0, 10.0}) { // mL/bar
        CAPTURE(gives);
        const Steady steady(scenarios::read_scenario(
            folder / "nursery-night.toml",
            std::vector<scenarios::Override>{
                {"demand.start=0.001 L/s"},
                {"demand.steps=[]"},
                {"supply.pressure=12 bar"},
                {"main.override.main_valve.area_change=50 %"},
                {fmt::format("main.override.main_valve.diaphragm_compliance={} mL/bar", gives)},
                {"main.override.main_valve.stem_friction=0 N"}}));
        CHECK(std::abs(steady.signal("main.cover_flow")) < 1e-9);
        CHECK(steady.values[steady.station.outlet()] == tests::relative(4.5e5, 0.02));
    }
}
