// Two equal main valves side by side in rehearsal and faults. Each is set by itself with the other shut off, with water running, and
// then both; the valve at fault is found by leaving one open at a time: common practice, no source.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/commands/outlets_text.h"
#include "tools/commands/rehearse.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/fault_library.h"
#include "tools/studies/rehearsal.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

scenarios::Scenario brindlewick(const std::vector<scenarios::Override>& changes = {}) {
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/brindlewick-two-mains.toml",
                                    changes);
}

/// The position of a step among those of the usual order.
std::size_t place_of(const Rehearsal& usual, Task task, std::size_t stage) {
    const auto found = std::ranges::find_if(usual.steps, [&](const RehearsalStep& step) {
        return step.id.task == task && step.id.stage == stage;
    });
    REQUIRE(found != usual.steps.end());
    return static_cast<std::size_t>(found - usual.steps.begin());
}

/// A control of a stage as it stands at a time: where its last change before has brought it.
double stands(const scenarios::Scenario& scenario, std::size_t stage, scenarios::Control what, double start,
              double time) {
    for (const auto& adjustment : scenario.adjustments)
        if (adjustment.stage == stage && adjustment.what == what && adjustment.at < time)
            start = adjustment.to;
    return start;
}

} // namespace

TEST_CASE("stages are set in the order of the trade: main valves first and the bypass last") {
    CHECK(order_of_setting(brindlewick()) == std::vector<std::size_t>{0, 1, 2});
    // Of what order the file has them in only the first main valve is chosen, and the higher of the others comes before.
    auto scenario = brindlewick();
    std::ranges::rotate(scenario.stages, scenario.stages.end() - 1);
    CHECK(order_of_setting(scenario) == std::vector<std::size_t>{1, 2, 0});
    CHECK(main_stages(scenario) == std::vector<std::size_t>{1, 2});
    // Alone it takes no name to know which main valve is meant.
    auto alone = brindlewick();
    alone.stages.erase(alone.stages.begin() + 1);
    CHECK(of_which_main(alone, 0).empty());
    CHECK(of_which_main(brindlewick(), 1) == " of main_2");
    CHECK(flow_to_set_at(alone, 0, 18) == 18);
    CHECK(flow_to_set_at(brindlewick(), 1, 18) == 9);
}

TEST_CASE("each of two main valves is set by itself with water running and reads then what both read together"
          * doctest::test_suite("long")) {
    const auto scenario = brindlewick();
    const auto usual = rehearse(scenario);
    CHECK(usual.accepted());
    CHECK(place_of(usual, Task::check_lock_up, 0) < place_of(usual, Task::make_room, 1));
    CHECK(place_of(usual, Task::check_lock_up, 1) < place_of(usual, Task::open_others, 1));
    CHECK(place_of(usual, Task::open_others, 1) < place_of(usual, Task::turn_screw, 2));
    double together = 0;
    for (const auto& step : usual.steps) {
        if (step.id.task == Task::prove_full)
            together = step.after.outlet;
        if (step.id.task != Task::turn_screw || step.id.stage == 2)
            continue;
        const auto other = 1 - step.id.stage;
        const auto& start = usual.scenario.stages[other];
        CHECK(stands(usual.scenario, other, scenarios::Control::cock, *start.cock, step.begin) < 0.01);
        CHECK(step.flow > 7e-3); // m3/s
    }
    // A gauge in the hand is read to a quarter of a division, 0.0125 bar: common practice, no source.
    for (const auto& step : usual.steps)
        if (step.id.task == Task::turn_screw && step.id.turn == step.id.turns && step.id.stage < 2) {
            CHECK(std::abs(step.after.outlet - together) < 0.0125e5);
            CHECK(step.after.cover < step.after.inlet - 1e5); // its own: shut in it would have the inlet's
        }
    // The needles of both are looked at.
    const auto& needles = usual.steps[place_of(usual, Task::check_needles, 0)];
    CHECK(std::ranges::count(needles.hands, Deed::check_needles, &Hand::deed) == 2);
    const auto text = rehearsal_text({usual, {}});
    for (const auto* told : {"cover of main_1 ", "cover of main_2 ", "Lock the screw of main_1",
                             "check lock-up of main_2", "opening control of main_2 at 2.00 turns"}) {
        CAPTURE(told);
        CHECK(text.find(told) != std::string::npos);
    }
    CHECK(not_rehearsed_text(scenario).find("cocks") != std::string::npos); // main_2 is shut off in the run
}

TEST_CASE("faults are put into the main valve that is not shut off") {
    CHECK(pilot_stage(brindlewick()) == 0);
    const std::vector<scenarios::Override> first_off{{"main_1.cock=0"}, {"main_1.outlet_cock=0"}};
    CHECK(pilot_stage(brindlewick(first_off)) == 1);
    const auto faulty = with_fault(brindlewick(first_off), Fault::air_in_cover).scenario;
    CHECK(faulty.stages[0].air_in_cover.volume == 0);
    CHECK(faulty.stages[1].air_in_cover.volume > 0);
}
