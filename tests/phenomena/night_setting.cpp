// A night setting gives the houses at the end of a long main nearly the same by night and by day, and leaks run the slower: trade
// lore (common practice, no source). What it sets is checked against a valve whose screw is set so by hand.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

namespace {

using namespace needleturn;
using tests::relative;

using Changes = std::vector<scenarios::Override>;

constexpr double bar = 1e5;

Outcome quillmere(const Changes& changes = {}) {
    return simulate(
        scenarios::read_scenario(tests::source_folder() + "/scenarios/quillmere-night.toml", changes));
}

/// Steady, at this flow at 3.5 bar.
Changes standing(const std::string& flow) {
    return {{"demand.start=" + flow}, {"demand.steps=[]"}, {"run.duration=5 s"}};
}

} // namespace

TEST_CASE("a night setting narrows what the houses get from night to day") {
    const auto spread = [](const Outcome& outcome) {
        const auto& houses = outcome.record.recording["far_end.pressure"];
        const auto at = [&](double time) { return houses[static_cast<std::size_t>(time / 1e-3)]; };
        return std::abs(at(19) - at(88));
    };
    const auto two = quillmere(), one = quillmere({{"main.night_setting.lower_by=1 Pa"}});
    CHECK(spread(one) > 0.9 * bar);
    CHECK(spread(two) < 0.3 * spread(one));
    REQUIRE(two.verdict.size() == 3);
    for (const std::size_t event : {0U, 2U}) {
        const auto& night = two.verdict[event].night;
        REQUIRE(night.size() == 1);
        CHECK(night.front().day_share < 1e-3);
        CHECK(night.front().setting == relative(3.8 * bar, 1e-3));
    }
    CHECK(two.verdict[1].night.front().setting == relative(4.8 * bar, 1e-3));
    CHECK(one.verdict[0].night.front().setting == relative(4.8 * bar, 1e-3));
}

TEST_CASE("a stage whose night setting has come to rest stands where one stands that is set so by hand") {
    for (const std::string flow : {"1 L/s", "2.7 L/s", "6 L/s"}) {
        CAPTURE(flow);
        const auto eased = quillmere(standing(flow));
        const auto& night = eased.verdict.front().night.front();
        auto changes = standing(flow);
        changes.push_back({"main.set_pressure=" + std::to_string(night.setting) + " Pa"});
        changes.push_back({"main.night_setting.lower_by=1e-3 Pa"});
        const auto by_hand = quillmere(changes);
        const auto& stands = eased.verdict.front();
        CHECK(stands.flowing_pressure == relative(by_hand.verdict.front().flowing_pressure, 1e-4));
        CHECK(stands.flow == relative(by_hand.verdict.front().flow, 1e-4));
        // And its fall-off is counted from that setting.
        CHECK(stands.fall_off == relative(night.setting - stands.flowing_pressure, 1e-6));
        CHECK(stands.fall_off == relative(by_hand.verdict.front().fall_off, 1e-3));
    }
}

// Leakage by FAVAD, Q1 / Q0 = (p1 / p0)^N with N = 1/2 for openings that do not give (May 1994, from memory), as Torricelli has it.
TEST_CASE("a leak loses by night with the root of the pressure that is left") {
    const auto eased = quillmere(standing("0.5 L/s"));
    auto all_day = standing("0.5 L/s");
    all_day.push_back({"main.night_setting.lower_by=1 Pa"});
    const auto full = quillmere(all_day);
    const auto end = [](const Outcome& outcome, const char* signal) {
        return outcome.record.recording[signal].back();
    };
    // Tolerance: below a knee of 5 Pa the loss is laminar (models/laws/restriction.h), which still takes 0.13 % of the flow at
    // 3.4 bar and 0.12 % at 4.4 bar.
    CHECK(end(eased, "demand.flow") / end(full, "demand.flow")
          == relative(std::sqrt(end(eased, "far_end.pressure") / end(full, "far_end.pressure")), 3e-4));
    CHECK(end(eased, "demand.flow") < 0.9 * end(full, "demand.flow"));
}

TEST_CASE("with nothing drawn the outlet keeps what it had and its rise is counted from the setting by day") {
    const auto stopped = [](const std::string& over) {
        return quillmere({{"demand.start=6 L/s"},
                          {"demand.steps=[{ at = '5 s', to = '0 L/s', over = '" + over + "' }]"},
                          {"run.duration=60 s"}});
    };
    // A main of 400 m that is stopped fast shuts in the pressure of its surge; one stopped slowly stands at the setting by night.
    for (const std::string over : {"4 s", "40 s"}) {
        CAPTURE(over);
        const auto outcome = stopped(over);
        REQUIRE(outcome.verdict.size() == 2);
        const auto& last = outcome.verdict.back();
        CHECK(last.night.front().setting == relative(3.8 * bar, 1e-2));
        CHECK(last.static_rise() == relative(last.flowing_pressure - 4.8 * bar, 1e-9));
        CHECK(last.fall_off == relative(last.night.front().setting - last.flowing_pressure, 1e-6));
        CHECK((last.static_rise() > 0.5 * bar) == (over == "4 s"));
        CHECK((last.static_rise() < -0.8 * bar) == (over == "40 s"));
    }
}
