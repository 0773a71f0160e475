// Two equal main valves side by side: how they share the flow, as their screws and their stems have it. Trade lore (common practice, no
// source): set alike they need not share alike. What they carry at rest is worked out here by hand, for each valve in closed form from
// inlet and outlet pressure and its screw.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/flow_map.h"
#include "tools/studies/simulate.h"
#include "tools/studies/sticking_stem.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

constexpr double bar = 1e5, litre = 1e-3; // Pa, m3
constexpr double inlet = 8 * bar;

/// The two main valves of Brindlewick Court alone, without cocks, behind a pipe that takes nothing, set to so many Pa.
scenarios::Scenario mains(double first, double second, const std::vector<scenarios::Override>& more = {}) {
    std::vector<scenarios::Override> changes{{"supply.pipe={ length = '1 m', kind = 'steel/DN150' }"},
                                             {"adjust.steps=[]"},
                                             {"demand.start=5 L/s"},
                                             {"demand.steps=[]"}};
    changes.insert(changes.end(), more.begin(), more.end());
    auto scenario =
        scenarios::read_scenario(tests::source_folder() + "/scenarios/brindlewick-two-mains.toml", changes);
    std::erase_if(scenario.stages, [](const auto& stage) { return stage.pilot_operated() == nullptr; });
    for (auto& stage : scenario.stages) {
        stage.cock.reset();
        stage.outlet_cock.reset();
    }
    scenario.stages[0].set_pressure = first;
    scenario.stages[1].set_pressure = second;
    return scenario;
}

/// m, the lift at which a valve rests whose pilot is set to `set`, pushed open by `held` (N) of friction. The pilot has its balance of
/// diaphragm and spring; through it goes what the fixed restriction brings, which is what the cover stands at; and the main stem has
/// its own balance of areas, spring and weight.
double lift_by_hand(const scenarios::PilotOperatedHardware& valve, double set, double outlet,
                    double held = 0) {
    const auto& pilot = valve.pilot;
    const double fall_off = std::max(set - outlet, 0.0);
    constexpr double rim = 1e-6; // m: the model's pilot passes nothing over its first micrometre
    const double pilot_lift =
        std::clamp(fall_off * pilot.diaphragm_area / pilot.spring_rate - rim, 0.0, pilot.full_lift);
    const double ratio = pilot.capacity * pilot_lift / pilot.full_lift / valve.fixed_restriction_capacity;
    const double cover = (inlet + ratio * ratio * outlet) / (1 + ratio * ratio);
    const auto& main = valve.main_valve;
    constexpr double gravity = 9.81;
    const double opening = main.seat_area * inlet + (main.diaphragm_area - main.seat_area) * outlet
                           - main.diaphragm_area * cover - main.spring_preload - main.moving_mass * gravity
                           + held;
    return std::clamp(opening / main.spring_rate, 0.0, main.full_lift);
}

/// m3/s at that lift: a flat disc, whose capacity is 1 - (1 - h)^1.8 of the whole at the share h of its lift, far from choking.
double flow_by_hand(const scenarios::PilotOperatedHardware& valve, double lift, double outlet) {
    return valve.main_valve.capacity * (1 - std::pow(1 - lift / valve.main_valve.full_lift, 1.8))
           * std::sqrt(inlet - outlet);
}

const scenarios::PilotOperatedHardware& hardware(const scenarios::Scenario& scenario) {
    return *scenario.stages.front().pilot_operated();
}

/// What both carry of one outlet pressure, by hand.
std::pair<double, double> both_by_hand(const scenarios::Scenario& scenario, double outlet, double held = 0) {
    const auto carried = [&](std::size_t i, double force) {
        return flow_by_hand(hardware(scenario),
                            lift_by_hand(hardware(scenario), scenario.stages[i].set_pressure, outlet, force),
                            outlet);
    };
    return {carried(0, held), carried(1, -held)};
}

/// Where `of` (of the outlet pressure) passes 0 between 4 and 4.7 bar.
template <class Of> double outlet_where(Of&& of) {
    double low = 4 * bar, high = 4.7 * bar;
    const bool sign = of(low) > 0;
    constexpr int halvings = 60;
    for (int i = 0; i < halvings; ++i) {
        const double middle = (low + high) / 2;
        ((of(middle) > 0) == sign ? low : high) = middle;
    }
    return low;
}

} // namespace

TEST_CASE("two equal main valves share the flow as a hand calculation of their screws says") {
    for (const double apart : {0.0, 0.01, 0.02, 0.04}) {
        CAPTURE(apart);
        const auto scenario = without_friction(mains(4.7 * bar, (4.7 - apart) * bar));
        const auto map = flow_map(scenario, {2 * litre, 35 * litre, 12});
        for (const auto& point : map.points) {
            const double all = point.stages[0].trim + point.stages[1].trim;
            CAPTURE(all);
            const double outlet = outlet_where([&](double p) {
                const auto [first, second] = both_by_hand(scenario, p);
                return first + second - all;
            });
            const auto [first, second] = both_by_hand(scenario, outlet);
            // What the hand leaves out: laminar flow in the pilot, the smooth rim of the main trim, 2 um of lift, and the pipe.
            CHECK(std::abs(outlet - point.outlet_pressure) < 1e-3 * bar);
            CHECK(std::abs(first - point.stages[0].trim) < 0.02 * all);
            CHECK(std::abs(second - point.stages[1].trim) < 0.02 * all);
            if (apart == 0)
                CHECK(point.stages[0].flow == relative(point.stages[1].flow, 1e-6));
        }
    }
}

TEST_CASE("of two main valves the one set lower stays shut until the other has fallen off by as much") {
    double last = 0;
    for (const double apart : {0.002, 0.005, 0.01}) {
        CAPTURE(apart);
        const auto scenario = without_friction(mains(4.7 * bar, (4.7 - apart) * bar));
        const auto map = flow_map(scenario, {1 * litre, 40 * litre, 40});
        REQUIRE(map.hand_overs.size() == 1);
        CHECK(map.stages[map.hand_overs.front().stage] == "main_2");
        // The map calls it carrying from 1 % of the flow on.
        const double outlet = outlet_where([&](double p) {
            const auto [first, second] = both_by_hand(scenario, p);
            return second - 0.01 * (first + second);
        });
        const auto [first, second] = both_by_hand(scenario, outlet);
        const double begins = map.hand_overs.front().flow;
        CHECK(begins == relative(first + second, 0.02)); // as above
        CHECK(begins > last);
        last = begins;
        for (const auto& point : map.points)
            if (point.flow < 0.95 * begins)
                CHECK(point.stages[1].trim < 0.005 * point.flow);
        const double share = map.points.back().share(map.points.back().stages[1]);
        CHECK(share < 0.5); // it never catches up
        CHECK(share > 0.01);
    }
}

TEST_CASE("of two main valves the one set lower by more than the other's whole stroke takes stays shut until "
          "that is wide open, unless cocks make it fall off more") {
    constexpr double apart = 0.02;
    const auto scenario = without_friction(mains(4.7 * bar, (4.7 - apart) * bar));
    const auto& valve = hardware(scenario);
    const auto where_lift_is = [&](double lift) {
        return outlet_where([&](double p) { return lift_by_hand(valve, 4.7 * bar, p) - lift; });
    };
    CHECK(where_lift_is(0.001 * valve.main_valve.full_lift)
              - where_lift_is(0.999 * valve.main_valve.full_lift)
          < apart * bar);
    CHECK(flow_map(scenario, {1 * litre, 40 * litre, 40}).hand_overs.empty());
    // What the first loses in cocks of its own, where the pilot does not see it, adds to what it falls off.
    auto with_cocks = scenario;
    for (auto& stage : with_cocks.stages)
        stage.cock = stage.outlet_cock = 1;
    const auto map = flow_map(with_cocks, {1 * litre, 40 * litre, 40});
    REQUIRE(map.hand_overs.size() == 1);
    CHECK(map.hand_overs.front().flow > 5 * litre);
    CHECK(map.hand_overs.front().flow < 20 * litre);
}

TEST_CASE("what each of two equal main valves carries at rest is open by twice the friction of a stem over "
          "its spring") {
    const auto scenario = mains(4.7 * bar, 4.7 * bar);
    const auto& valve = hardware(scenario).main_valve;
    const auto map = flow_map(scenario, {8 * litre, 35 * litre, 6});
    REQUIRE(map.sticking.size() == 2);
    for (const auto& point : map.points) {
        CAPTURE(point.flow);
        const double all = point.stages[0].trim + point.stages[1].trim;
        const double outlet = outlet_where([&](double p) {
            const auto [first, second] = both_by_hand(scenario, p, valve.stem_friction);
            return first + second - all;
        });
        const auto [most, least] = both_by_hand(scenario, outlet, valve.stem_friction);
        for (const auto& stage : point.stages) {
            CHECK(std::abs(point.most_share(stage) - most / all) < 0.02);
            CHECK(std::abs(point.least_share(stage) - least / all) < 0.02);
            CHECK(point.share(stage) == relative(0.5, 1e-6));
        }
    }
    // And with lifts: the pilots see one pressure, so both covers have one pressure, and only friction sets the stems apart.
    const double apart = lift_by_hand(hardware(scenario), 4.7 * bar, 4.34 * bar, valve.stem_friction)
                         - lift_by_hand(hardware(scenario), 4.7 * bar, 4.34 * bar, -valve.stem_friction);
    CHECK(apart == relative(2 * valve.stem_friction / valve.spring_rate, 1e-9));
    // Without it nothing is open.
    for (const auto& point : flow_map(without_friction(scenario), {8 * litre, 35 * litre, 3}).points)
        CHECK(point.most_share(point.stages[0]) == point.least_share(point.stages[0]));
}

TEST_CASE(
    "a main valve that is shut off and opened again takes its share back in minutes and not all of it") {
    const std::vector<scenarios::Override> changes{
        {"demand.steps=[{ at = '10 s', to = '18 L/s', over = '10 s' }]"}, {"run.duration=500 s"}};
    const auto scenario =
        scenarios::read_scenario(tests::source_folder() + "/scenarios/brindlewick-two-mains.toml", changes);
    const auto outcome = simulate(scenario);
    REQUIRE(outcome.verdict.size() == 4);
    const auto share = [&](std::size_t event, std::size_t stage) {
        double all = 0;
        for (const auto& load : outcome.verdict[event].loads)
            all += load.flow;
        return outcome.verdict[event].loads.at(stage).flow / all;
    };
    CHECK(share(1, 0) == relative(share(1, 1), 1e-3)); // at full flow, as they were before
    CHECK(share(2, 1) < 0.01);                         // shut off: the other holds the building
    CHECK(outcome.verdict[2].passed());
    // Open again: half a minute later, with the outlet long at rest, the other still carries more than twice as much.
    const auto& recording = outcome.record.recording;
    const auto at = [&](const char* name, double time) {
        return recording[name][static_cast<std::size_t>(std::lround(time / scenario.run.sample_interval))];
    };
    CHECK(std::abs(at("outlet.pressure", 90) - at("outlet.pressure", 490)) < 0.005 * bar);
    CHECK(at("main_1.flow", 90) > 2 * at("main_2.flow", 90));
    CHECK(at("main_2.flow", 490) > 2 * at("main_2.flow", 90));
    // At last it stands at the end of what the map leaves open at that flow: the one that had to close carries most.
    auto still = scenario;
    still.demand.start = 18 * litre;
    still.demand.steps.clear();
    still.adjustments.clear();
    const auto map = flow_map(still, {18 * litre, 18.1 * litre, 2});
    const auto& point = map.points.front();
    CHECK(std::abs(share(3, 0) - point.most_share(point.stages[0])) < 0.005);
    CHECK(std::abs(share(3, 1) - point.least_share(point.stages[1])) < 0.005);
    CHECK(share(3, 0) > share(3, 1) + 0.03);
    CHECK_FALSE(still_shifting(outcome.verdict[3].loads));
}

TEST_CASE("two main valves together hunt up to a higher flow than one of them alone") {
    // Each stands half as far open, where it is hardly damped, and both answer.
    const auto both = without_friction(mains(4.7 * bar, 4.7 * bar));
    auto alone = both;
    alone.stages.pop_back();
    const FlowSweep sweep{0.05 * litre, 20 * litre, 60};
    const double together = flow_map(both, sweep).minimum_continuous_flow();
    CHECK(std::isfinite(together));
    CHECK(together > 2 * flow_map(alone, sweep).minimum_continuous_flow());
}

TEST_CASE("air in one of two equal main valves makes the station hunt and the map names that one") {
    const auto without_bypass = [](std::vector<scenarios::Override> changes) {
        changes.insert(changes.end(), {{"bypass.cock=0"}, {"bypass.outlet_cock=0"}, {"adjust.steps=[]"}});
        return scenarios::read_scenario(tests::source_folder() + "/scenarios/brindlewick-two-mains.toml",
                                        changes);
    };
    const scenarios::Override air{"main_2.air_in_cover=60 mL"};
    constexpr FlowSweep sweep{1 * litre, 20 * litre, 30};
    const auto bled = flow_map(without_friction(without_bypass({})), sweep);
    const auto airy = flow_map(without_friction(without_bypass({air})), sweep);
    REQUIRE(airy.unsteady.size() == 1);
    CHECK(airy.minimum_continuous_flow() > 3 * bled.minimum_continuous_flow());
    const auto& mode = airy.unsteady.front().mode;
    CAPTURE(mode);
    CHECK(mode.find("main_2 ") != std::string::npos);
    CHECK(mode.find("main_1 ") == std::string::npos);
    // Its stem goes to and fro and drags the sound one along: a gauge on the outlet does not tell which of them it is, their lifts do.
    const auto outcome =
        simulate(without_bypass({air,
                                 {"demand.start=9 L/s"},
                                 {"demand.steps=[{ at = '2 s', to = '6 L/s', over = '1 s' }]"},
                                 {"run.duration=30 s"}}));
    CHECK(outcome.verdict.back().hunts());
    const auto stroke = [&](const std::string& name) {
        const auto& lift = outcome.record.recording[name + ".lift"];
        const auto [low, high] = std::ranges::minmax(std::span(lift).subspan(lift.size() / 2));
        return high - low;
    };
    CHECK(stroke("main_2") > 2 * stroke("main_1"));
    CHECK(stroke("main_1") > 0.2e-3); // m
}
