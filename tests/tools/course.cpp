/// A demand that follows a log: which stretches are asked, against such as are found by hand, and what recordings made by hand show
/// there: a change of demand is no hunting, and hunting is not lost in it.
#include "tools/studies/course.h"

#include "scenarios/demand_course.h"
#include "tools/studies/limits_kept.h"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <utility>
#include <vector>

using namespace needleturn;

namespace {

constexpr double bar = 1e5, litre = 1e-3, interval = 1e-3, duration = 60, set_pressure = 4 * bar;

/// 6 L/s that falls to 2 L/s from 20 to 32 s, then stays.
const std::vector<std::pair<double, double>> falls{{0, 6}, {20, 6}, {32, 2}, {60, 2}};

scenarios::Scenario following(const std::vector<std::pair<double, double>>& rows) {
    scenarios::PilotOperatedHardware hardware;
    hardware.main_valve.full_lift = 0.02;
    scenarios::Stage stage;
    stage.name = "main";
    stage.hardware = hardware;
    stage.set_pressure = set_pressure;
    scenarios::Scenario made;
    made.title = "by hand";
    made.supply.pressure = 8 * bar;
    made.stages = {stage};
    made.run.duration = duration;
    auto& log = made.demand.log.emplace();
    for (const auto& [time, flow] : rows) {
        log.seconds.push_back(time);
        log.flows.push_back(flow * litre);
    }
    CHECK(scenarios::lay_course(made.demand, duration, 0).empty());
    return made;
}

std::vector<std::pair<double, double>> stretches(const scenarios::Scenario& scenario) {
    std::vector<std::pair<double, double>> found;
    for (const auto& stretch : quiet_stretches(scenario, 0, duration))
        found.emplace_back(stretch.begin, stretch.end);
    return found;
}

/// The only event of a run whose demand falls and whose outlet shows `pressure` (s -> Pa).
EventVerdict judged(const std::function<double(double)>& pressure, const scenarios::Accept& accept = {}) {
    auto scenario = following(falls);
    scenario.accept = accept;
    sim::Recording made;
    const auto add = [&](const char* name, const std::function<double(double)>& signal) {
        made.quantities.push_back({.name = name, .unit = "1", .typical = 1, .meaning = ""});
        made.values.emplace_back();
        for (int k = 0; k * interval <= duration; ++k)
            made.values.back().push_back(signal(k * interval));
    };
    add("outlet.pressure", pressure);
    add("demand.flow", [&](double t) { return scenarios::drawn_at(scenario.demand, t); });
    add("main.set_pressure", [](double) { return set_pressure; });
    add("main.lift", [](double) { return 0.01; });
    add("main.stem_speed", [](double) { return 0.0; });
    for (std::size_t k = 0; k < made.values.front().size(); ++k)
        made.time.push_back(static_cast<double>(k) * interval);
    const auto verdict = judge(scenario, made, interval);
    REQUIRE(verdict.size() == 1);
    return verdict.front();
}

/// Falls off by 0.1 bar for each L/s.
double falling_off(double time) {
    static const auto scenario = following(falls);
    return set_pressure - 0.1 * bar * scenarios::drawn_at(scenario.demand, time) / litre;
}

double swinging(double time, double from, double until) {
    return falling_off(time)
           + (time > from && time < until ? 0.25 * bar * std::sin(2 * std::numbers::pi * 2 * (time - from))
                                          : 0);
}

} // namespace

TEST_CASE("what goes straight for ten seconds is asked, and nothing shorter") {
    using Found = std::vector<std::pair<double, double>>;
    CHECK(stretches(following(falls)) == Found{{0, 20}, {20, 32}, {32, 60}});
    // From 20 to 29 s: too short.
    CHECK(stretches(following({{0, 6}, {20, 6}, {29, 2}, {60, 2}})) == Found{{0, 20}, {29, 60}});
    // Whatever else is done ends a stretch.
    auto supply = following(falls);
    supply.supply.steps = {{40, 7 * bar, 2}};
    CHECK(stretches(supply) == Found{{0, 20}, {20, 32}, {42, 60}});
}

TEST_CASE("rows a second apart that stay within one per cent of a line are one stretch, those that flicker "
          "by more are none") {
    std::vector<std::pair<double, double>> quiet, flickers;
    for (int t = 0; t <= 60; ++t) {
        const double flow = 3 + 0.05 * t;
        quiet.emplace_back(t, flow * (1 + (t % 2 == 0 ? 0.003 : -0.003)));
        flickers.emplace_back(t, flow * (1 + (t % 2 == 0 ? 0.03 : -0.03)));
    }
    CHECK(stretches(following(quiet)) == std::vector<std::pair<double, double>>{{0, 60}});
    CHECK(stretches(following(flickers)).empty());
}

TEST_CASE("a log is one event, told with its least and greatest flow") {
    const auto events = events_of(following(falls));
    REQUIRE(events.size() == 1);
    CHECK(events.front().what == "start: demand as log, 2.00 L/s to 6.00 L/s");
    CHECK(events.front().course);
    CHECK(events.front().until == 32);
}

TEST_CASE("a change of demand is no hunting, and the worst stretch tells what it falls off") {
    const auto event = judged(falling_off);
    REQUIRE(event.course);
    CHECK(event.course->stretches == 3);
    CHECK(!event.hunts_in_window());
    CHECK(event.fall_off == doctest::Approx(0.6 * bar).epsilon(1e-6)); // at 6 L/s, by the line above
    CHECK(event.flow == doctest::Approx(6 * litre));
    CHECK(event.course->least == doctest::Approx(2 * litre));
    CHECK(event.course->greatest == doctest::Approx(6 * litre));
    CHECK(event.share_delivered() == doctest::Approx(1).epsilon(1e-3)); // delivered as wanted
}

TEST_CASE("hunting is found in whichever stretch it is, and one that has died away by its end is none") {
    for (const auto& [from, until] : std::vector<std::pair<double, double>>{{0, 20}, {20, 32}, {32, 60}}) {
        CAPTURE(from);
        const auto event = judged([&](double t) { return swinging(t, from, until); });
        CHECK(event.hunts_in_window());
        CHECK(event.hunting.peak_to_peak == doctest::Approx(0.5 * bar).epsilon(0.03));
        CHECK(event.hunting.frequency == doctest::Approx(2).epsilon(0.02));
        CHECK(event.course->hunts_at == from);
    }
    CHECK(!judged([&](double t) { return swinging(t, 33, 40); }).hunts_in_window());
}

TEST_CASE("settling is never told of a log, and says so where a limit asks for it") {
    scenarios::Accept accept;
    accept.settling_time = 5;
    accept.fall_off = 0.5 * bar;
    const auto event = judged(falling_off, accept);
    REQUIRE(event.findings.size() == 2);
    CHECK(event.findings[0].reason == Finding::Reason::never_rests);
    CHECK(event.findings[0].undecided);
    CHECK(event.findings[1].reason == Finding::Reason::beyond);
    CHECK(event.findings[1].limit == scenarios::Limit::fall_off);
}
