// What two steps do to each other: trade lore (common practice, no source), and the reason why they are built, by the index that
// ISA-RP75.23 defines and IEC 60534-8-2 takes up: sigma = (p1 - p_v) / (p1 - p2), absolute pressures.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <string>
#include <vector>

namespace {

using namespace needleturn;

using Changes = std::vector<scenarios::Override>;

constexpr double bar = 1e5; // Pa

scenarios::Scenario larkfell(const Changes& changes = {}) {
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/larkfell-two-steps.toml", changes);
}

/// Two pilot-operated steps at a flow that does not change, and more.
scenarios::Scenario two_pilots(const Changes& more = {}) {
    Changes changes{{"first.hardware=pilot-operated/DN65"},
                    {"first.opening_control=1 turn"},
                    {"first.closing_control=6 turns"},
                    {"demand.steps=[]"},
                    {"run.duration=10 s"}};
    changes.insert(changes.end(), more.begin(), more.end());
    return larkfell(changes);
}

/// The same with one step alone: the second, supplied with what the first would hold.
scenarios::Scenario second_alone(scenarios::Scenario scenario) {
    scenario.supply.pressure = 8 * bar;
    std::erase_if(scenario.stages, &scenarios::Stage::first_step);
    scenario.accept.outlets.clear();
    return scenario;
}

/// Highest less lowest over the last quarter of a run.
double swing(const Outcome& outcome, const std::string& signal) {
    const auto& all = outcome.record.recording[signal];
    const auto [low, high] = std::ranges::minmax(std::span(all).last(all.size() / 4));
    return high - low;
}

double lowest_index(const std::vector<EventVerdict>& verdict) {
    double lowest = 100;
    for (const auto& event : verdict)
        if (event.cavitation_index < lowest)
            lowest = event.cavitation_index;
    return lowest;
}

} // namespace

TEST_CASE("when the second step shuts the pressure between rises to what the first holds and the outlet to "
          "its own") {
    const auto outcome = simulate(larkfell());
    const auto& between = outcome.record.recording["inlet.pressure"];
    const auto& outlet = outcome.record.recording["outlet.pressure"];
    CHECK(std::abs(between.back() - 8 * bar) < 0.05 * bar);
    CHECK(std::abs(outlet.back() - 3.8 * bar) < 0.05 * bar);
    // While water flows the first stands below that by its fall-off.
    CHECK(between.back() - between.front() > 0.05 * bar);
}

TEST_CASE("two steps stand clearer of cavitation than one over the whole drop") {
    auto scenario = larkfell({{"demand.steps=[]"}, {"run.duration=2 s"}});
    const double of_two = lowest_index(simulate(scenario).verdict);
    auto one = second_alone(scenario);
    one.supply.pressure = 14 * bar;
    const auto alone = simulate(one);
    const double of_one = lowest_index(alone.verdict);
    // By the definition, from the pressures at both ends of the valve, 14 bar and what it holds: 1705 Pa, vapour at 15 degC (IAPWS).
    const double ahead = alone.record.recording["inlet.pressure"].front() + 101325;
    const double behind = alone.record.recording["outlet.pressure"].front() + 101325;
    CHECK(of_one
          == tests::relative((ahead - 1705) / (ahead - behind),
                             0.02)); // its own cocks take a little of the drop
    CHECK(of_one < 1.5);
    CHECK(of_two > 1.9);
}

TEST_CASE("two pilot-operated steps of which each is steady alone hunt against each other and a "
          "direct-acting first does not"
          * doctest::test_suite("long")) {
    const Changes flow{{"demand.start=6 L/s"}};
    const auto both = two_pilots(flow);
    const auto hunting = simulate(both);
    CHECK(hunting.verdict.back().hunts());
    CHECK(hunting.verdict.back().swing() > 0.3 * bar);
    // Each alone, over the drop that it has of the two, behind the same pipes, rests and comes back from the standard knock.
    CHECK_FALSE(simulate(second_alone(both)).verdict.back().hunts());
    auto first_alone = second_alone(both);
    first_alone.supply.pressure = 14 * bar;
    first_alone.stages[0].set_pressure = 8 * bar;
    first_alone.demand.at_pressure = 7.5 * bar;
    CHECK_FALSE(simulate(first_alone).verdict.back().hunts());
    // A spring that answers at once, and falls off as it opens, takes the place of the first.
    CHECK_FALSE(
        simulate(larkfell({{"demand.steps=[]"}, {"run.duration=10 s"}, flow[0]})).verdict.back().hunts());
}

TEST_CASE("what yields between the steps calms the outlet while the line between still swings"
          * doctest::test_suite("long")) {
    const Changes flow{{"demand.start=3 L/s"},
                       {R"(demand.steps=[{ at = "1 s", to = "2 L/s", over = "1 s" }])"},
                       {"run.duration=20 s"}};
    auto yielding = flow;
    yielding.push_back({"supply.storage=50 mL/bar"});
    const auto soft = simulate(two_pilots(yielding));
    const double between = swing(soft, "inlet.pressure"), outlet = swing(soft, "outlet.pressure");
    CHECK(between > 0.3 * bar);
    CHECK(outlet < 0.15 * between);
    CHECK(outlet < 0.2 * swing(simulate(two_pilots(flow)), "outlet.pressure"));
}

TEST_CASE("air in the cover of the first step makes it hunt and the second passes that on"
          * doctest::test_suite("long")) {
    const auto bled = simulate(two_pilots({{"supply.storage=50 mL/bar"}}));
    const auto airy = simulate(two_pilots({{"supply.storage=50 mL/bar"}, {"first.air_in_cover=100 mL"}}));
    CHECK(swing(bled, "outlet.pressure") < 0.1 * bar);
    CHECK(swing(airy, "outlet.pressure") > 1 * bar);
    CHECK(airy.verdict.back().hunts());
}
