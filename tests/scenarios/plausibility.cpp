/// Keys that are each within their range and nonsense together. Water at 12 degC: 999.5 kg/m3 (steam tables, from memory), so
/// that 1 bar lifts it 1e5 / (999.5 x 9.80665) = 10.20 m.
#include "scenarios/plausibility.h"

#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <fmt/format.h>

#include <algorithm>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

// The highest pressures of its run: supply 7.5 bar, set 4.25 bar (5 turns of 0.85 bar). Its outlets lie 1 m below the valve.
std::vector<std::string> warned(std::initializer_list<const char*> changes) {
    auto scenario = nursery(changes);
    scenario.downstream.reliefs.clear(); // they have a test of their own
    scenario.downstream.branches.at(0).reliefs.clear();
    return static_warnings(scenario);
}

std::string refused(std::initializer_list<const char*> changes) {
    return error_of([&] { nursery(changes); });
}

} // namespace

TEST_CASE("a sound scenario and a supply that fails on purpose: no word, and what it means") {
    CHECK(warned({}).empty());
    CHECK(warned({"supply.steps.1.to=0 bar"})
          == std::vector<std::string>{
              "the supply falls to 0.00 bar at 22 s: below main, set to 4.20 bar, which regulates "
              "nothing until it is back"});
}

TEST_CASE(
    "a supply above the pressure rating is told, whether at the start or later, of every kind of valve") {
    const std::vector<std::string> told{"the supply brings 16.10 bar to main, which is rated for 16.00 bar"};
    CHECK(warned({"supply.pressure=16 bar"}).empty());
    CHECK(warned({"supply.pressure=16.1 bar"}) == told);
    CHECK(warned({"supply.steps.1.to=16.1 bar"}) == told);
    CHECK(warned({"supply.pressure=16.1 bar", "main.override.pressure_rating=25 bar"}).empty());
    CHECK(warned({"main.override.pressure_rating=6 bar"})
          == std::vector<std::string>{"the supply brings 7.50 bar to main, which is rated for 6.00 bar"});
    CHECK(warned({"units=US", "supply.pressure=240 psi"})
          == std::vector<std::string>{"the supply brings 240.0 psi to main, which is rated for 232.1 psi"});
    auto direct = read_scenario(source / "scenarios/school-staged.toml",
                                std::vector<Override>{{"supply.pressure=17 bar"}});
    CHECK(static_warnings(direct).size() == 3); // one for each stage
    // Height takes its share: 10 m up to the valve leave 0.98 bar less.
    CHECK(warned({"supply.pressure=16.1 bar", "supply.pipe.rise=10 m"}).empty());
}

TEST_CASE("where nothing is drawn a shut stage with a higher setting is told, for its cocks weep") {
    const auto school = [](std::vector<Override> changes) {
        return static_warnings(read_scenario(source / "scenarios/school-staged.toml", changes));
    };
    const Override still{"demand.start=0 L/s"}, shut{"bypass.cock=0"}, isolated{"bypass.outlet_cock=0"};
    const std::vector<std::string> told{
        "bypass is shut off, but a shut cock weeps: where nothing is drawn the run starts as after many "
        "hours, "
        "at the 4.80 bar of bypass, not at the 4.48 bar of the stages that deliver"};
    CHECK(school({still, shut}) == told);
    CHECK(school({still, shut, isolated}) == told);
    CHECK(school({still}).empty());
    CHECK(school({shut}).empty());
    CHECK(school({still, {"intermediate.cock=0"}}).empty()); // its setting is the lowest
}

TEST_CASE("a set pressure above the supply, or too near it, is told") {
    CHECK(warned({"main.set_pressure=7.6 bar"})
          == std::vector<std::string>{"main is set to 7.60 bar, but the supply never brings it more than "
                                      "7.50 bar: it cannot reach its setting and "
                                      "regulates nothing"});
    CHECK(warned({"main.set_pressure=7 bar", "supply.steps=[]"})
          == std::vector<std::string>{
              "main is set only 0.50 bar below its inlet pressure of 7.50 bar: a pilot-operated "
              "valve wants about 0.70 bar to move and to shut"});
    CHECK(warned({"main.set_pressure=6.7 bar", "supply.steps=[]"}).empty());
    // A screw that is turned too far later counts, a supply that comes later too.
    CHECK(warned({"adjust.steps.3.adjusting_screw=9 turns"}).size() == 1);
    CHECK(warned({"supply.pressure=1 bar", "supply.steps.1.to=7.5 bar"}).empty());
}

TEST_CASE("a relief valve that stands open, that need not shut or that the supply never opens is told") {
    const auto all = [](std::initializer_list<const char*> changes) {
        return static_warnings(nursery(changes));
    };
    CHECK(all({}).empty());
    // 1 m below the valve, 4.2 bar static: 4.30 bar. The outlets of mist lie as high as the header.
    CHECK(all({"guard.set_pressure=4.25 bar", "guard.rated_flow=4 L/s"})
          == std::vector<std::string>{"guard is set to 4.25 bar, but the station holds 4.30 bar there with "
                                      "nothing drawn: it stands open"});
    CHECK(all({"guard.set_pressure=4.25 bar", "guard.rated_flow=4 L/s", "guard.at=near-end"})
          == std::vector<std::string>{
              "guard shuts again at 3.40 bar, but the station holds 4.20 bar there with "
              "nothing drawn: once open it need not shut by itself"});
    CHECK(all({"relief.set_pressure=7.7 bar"})
          == std::vector<std::string>{
              "relief is set to 7.70 bar, but the supply never brings more than 7.60 bar "
              "there, whatever stands open: only a surge opens it"});
    // Height takes its share: 3 m up to the mist leave 4.00 bar.
    CHECK(all({"downstream.branch.1.pipe.rise=3 m", "relief.set_pressure=4.05 bar", "relief.blow_down=0.01"})
              .empty());
}

TEST_CASE(
    "a height that no pressure of the run reaches is refused in one line that says how far it reaches") {
    CHECK(refused({"downstream.pipe.rise=60 m"})
              .ends_with("nursery.toml:25: downstream = {...}: 4.23 bar, the highest setting of the "
                         "station, does not "
                         "lift water 60.0 m to the outlets at the far end, only 43.2 m"));
    CHECK(4.23 * 1e5 / (999.5 * 9.80665) == relative(43.2, 1.2e-3)); // what the line says, to a tenth
    CHECK(refused({"downstream.pipe.rise=43 m"}).empty());
    CHECK(refused({"supply.pipe.rise=80 m"})
              .find("7.50 bar, the supply's highest pressure, does not lift water 80.0 m to "
                    "the valve, only 76.5 m")
          != std::string::npos);
    CHECK(refused({"supply.pipe.rise=70 m", "downstream.pipe.rise=8 m"})
              .find("bar, the supply's pressure at the valve, does not lift water 8.0 m")
          != std::string::npos);
    // A supply or a setting that comes later counts; of the start it is said when no steady state is found.
    CHECK(refused({"downstream.pipe.rise=43 m", "supply.pressure=3 bar"}).empty());
    CHECK(out_of_reach_at_start(nursery({"downstream.pipe.rise=43 m", "supply.pressure=3 bar"}))
              .find("only 30.6 m")
          != std::string::npos);
    // Where nothing is ever wanted nothing is out of reach.
    CHECK(error_of([] {
              const std::vector<Override> shut{
                  {"downstream.pipe.rise=60 m"}, {"demand.start=0 L/s"}, {"demand.steps=[]"}};
              read_scenario(source / "scenarios/nursery-day.toml", shut);
          }).empty());
}

TEST_CASE("a branch is out of reach by its own height beyond the header's") {
    const auto branches = source / "scenarios/nursery-branches.toml";
    const auto error = [&](const char* change) {
        return error_of([&] { read_scenario(branches, std::vector<Override>{{change}}); });
    };
    CHECK(error("downstream.branch.2.pipe.rise=40 m").empty());
    CHECK(error("downstream.branch.2.pipe.rise=50 m")
              .ends_with("downstream = {...}: 4.50 bar, the highest setting of the station, does not lift "
                         "water 50.0 m to the "
                         "outlets of zone_2, only 45.9 m"));
}

TEST_CASE("a pressure rating comes with a default, is checked like every key, and is written out") {
    CHECK(pressure_rating_of(nursery().stages.front().hardware) == 16e5);
    CHECK(resolved(nursery({"main.override.pressure_rating=300 psi"})).find("pressure_rating = \"20684")
          != std::string::npos);
    CHECK(refused({"main.override.pressure_rating=0 bar"}).find("out of range") != std::string::npos);
}
