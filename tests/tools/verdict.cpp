/// The verdict on recordings made by hand: what counts as an event, what each figure means, when a limit is broken.
#include "tools/studies/verdict.h"

#include "tools/commands/finding_text.h"
#include "tools/studies/limits_kept.h"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <numbers>

using namespace needleturn;

namespace {

constexpr double bar = 1e5;        // Pa
constexpr double litre = 1e-3;     // m3
constexpr double full_lift = 0.02; // m
constexpr double interval = 1e-3;  // s
constexpr double set_pressure = 4 * bar;

scenarios::Stage stage(const char* name) {
    scenarios::PilotOperatedHardware hardware;
    hardware.main_valve.full_lift = full_lift;
    scenarios::Stage made;
    made.name = name;
    made.hardware = hardware;
    made.set_pressure = set_pressure;
    made.opening_control = 3;
    return made;
}

/// Demand of 9 L/s that changes to 2 L/s after 5 s, within 1 s.
scenarios::Scenario scenario() {
    scenarios::Scenario made;
    made.title = "by hand";
    made.supply.pressure = 8 * bar;
    made.stages = {stage("main")};
    made.demand.start = 9 * litre;
    made.demand.steps = {{5, 2 * litre, 1}};
    made.run.duration = 15;
    return made;
}

using Signal = std::function<double(double t)>;

/// A still recording, 15 s long, with a signal of the test's own in it.
sim::Recording recording(const std::string& name, const Signal& signal, double duration = 15) {
    struct Still {
        const char* name;
        double value;
    };
    sim::Recording made;
    for (const auto& still : {Still{"outlet.pressure", set_pressure}, Still{"demand.flow", 2 * litre},
                              Still{"main.set_pressure", set_pressure}, Still{"main.lift", full_lift / 2},
                              Still{"main.stem_speed", 0}}) {
        made.quantities.push_back({.name = still.name, .unit = "1", .typical = 1, .meaning = ""});
        made.values.emplace_back();
        for (int k = 0; k * interval <= duration; ++k)
            made.values.back().push_back(still.name == name ? signal(k * interval) : still.value);
    }
    made.time.resize(made.values.front().size());
    for (std::size_t k = 0; k < made.time.size(); ++k)
        made.time[k] = static_cast<double>(k) * interval;
    return made;
}

std::vector<EventVerdict> judged(const scenarios::Scenario& asked, const std::string& name,
                                 const Signal& signal, double duration = 15) {
    return judge(asked, recording(name, signal, duration), interval);
}

/// What is found of the demand step when the outlet pressure is `pressure`, in words.
std::vector<std::string> broken(const scenarios::Accept& limits, const Signal& pressure) {
    auto asked = scenario();
    asked.accept = limits;
    return finding_texts(judged(asked, "outlet.pressure", pressure).at(1).findings, asked.units);
}

/// A swing of `peak_to_peak` at 2 Hz about the set pressure, from the step on.
Signal swing(double peak_to_peak) {
    return [=](double t) {
        return set_pressure + (t > 5 ? peak_to_peak / 2 * std::sin(4 * std::numbers::pi * (t - 5)) : 0);
    };
}

/// A stem that goes from half lift to the end of its travel and back once a second, `speed` fast, from the step on.
std::vector<EventVerdict> travel(double end, double speed) {
    const auto phase = [](double t) { return t - std::floor(t); };
    const double reach = std::abs(end - full_lift / 2), sign = end > full_lift / 2 ? 1 : -1;
    auto record = recording("main.lift", [=](double t) {
        const double way = t <= 5 ? 0 : speed * (0.5 - std::abs(phase(t) - 0.5));
        return full_lift / 2 + sign * std::min(way, reach);
    });
    auto& moved = record.values[4];
    for (std::size_t k = 0; k < moved.size(); ++k) {
        const double t = record.time[k];
        const double way = speed * (0.5 - std::abs(phase(t) - 0.5));
        moved[k] = t > 5 && way < reach ? (phase(t) < 0.5 ? sign : -sign) * speed : 0;
    }
    return judge(scenario(), record, interval);
}

} // namespace

TEST_CASE("a run starts with an event and has one for each step, in the scenario's units") {
    auto asked = scenario();
    asked.demand.steps.push_back({9, 5 * litre, 0});
    const auto events = events_of(asked);
    REQUIRE(events.size() == 3);
    CHECK(events[0].what == "start");
    CHECK(events[1].at == 5);
    CHECK(events[1].until == 6);
    CHECK(events[1].what == "demand 9.00 L/s -> 2.00 L/s");
    CHECK(events[2].what == "demand 2.00 L/s -> 5.00 L/s"); // from where the step before it ended
}

TEST_CASE("events come by time, whoever causes them") {
    auto asked = scenario();
    asked.supply.steps = {{8, 6 * bar, 0}};
    asked.adjustments = {{.at = 2, .what = scenarios::Control::opening_control, .to = 1.5, .over = 1}};
    const auto events = events_of(asked);
    REQUIRE(events.size() == 4);
    CHECK(events[1].what.starts_with("main opening control 3"));
    CHECK(events[2].what.starts_with("demand"));
    CHECK(events[3].what == "supply 8.00 bar -> 6.00 bar");
}

TEST_CASE("what happens at one instant is one event, complete when the last change is") {
    auto asked = scenario();
    asked.supply.steps = {{5, 6 * bar, 3}};
    const auto events = events_of(asked);
    REQUIRE(events.size() == 2);
    CHECK(events[1].what == "supply 8.00 bar -> 6.00 bar; demand 9.00 L/s -> 2.00 L/s");
    CHECK(events[1].until == 8);
}

TEST_CASE(
    "events closer than the recording's samples are one, so that their numbers are those of the verdict") {
    auto asked = scenario();
    asked.supply.steps = {{5.0002, 6 * bar, 0}}; // samples come 1 ms apart
    asked.adjustments = {{.at = 8, .what = scenarios::Control::opening_control, .to = 1.5, .over = 1}};
    const auto events = events_of(asked);
    REQUIRE(events.size() == 3);
    CHECK(events[1].what == "demand 9.00 L/s -> 2.00 L/s; supply 8.00 bar -> 6.00 bar");
    const auto verdict = judge(asked, recording("outlet.pressure", [](double) { return 4 * bar; }), interval);
    REQUIRE(verdict.size() == events.size());
    for (std::size_t i = 0; i < events.size(); ++i)
        CHECK(verdict[i].event.what == events[i].what);
}

TEST_CASE("a step at time 0 belongs to the start") {
    auto asked = scenario();
    asked.demand.steps.front().at = 0;
    const auto events = events_of(asked);
    REQUIRE(events.size() == 1);
    CHECK(events[0].what == "start: demand 9.00 L/s -> 2.00 L/s");
    CHECK(events[0].until == 1);
}

TEST_CASE("a stem that runs into an end of its travel strikes it, each time") {
    const auto seat = travel(0, 0.05);
    REQUIRE(seat.size() == 2);
    CHECK(seat[0].seat_strikes == 0);  // it stands still before the step
    CHECK(seat[1].seat_strikes == 10); // once a second from 5 s to 15 s
    CHECK(seat[1].stop_strikes == 0);
    CHECK(seat[1].hardest_strike == 0.05); // the speed of the sample before contact
    const auto stop = travel(full_lift, 0.05);
    CHECK(stop[1].stop_strikes == 10);
    CHECK(stop[1].seat_strikes == 0);
}

TEST_CASE("a stem that closes gently, slower than 10 mm/s, does not strike") {
    auto closes =
        recording("main.lift", [](double t) { return std::max(0.0, 0.01 - 0.009 * std::max(0.0, t - 5)); });
    for (std::size_t k = 0; k < closes.time.size(); ++k)
        closes.values[4][k] = closes.time[k] > 5 && closes.values[3][k] > 0 ? -0.009 : 0;
    CHECK(judge(scenario(), closes, interval).at(1).seat_strikes == 0);
}

TEST_CASE("a limit that is not stated is not judged") { CHECK(broken({}, swing(3 * bar)).empty()); }

TEST_CASE("a broken limit is told in words, with value and limit") {
    scenarios::Accept limits;
    using Words = std::vector<std::string>;
    // A dip and a peak, 0.2 s wide, 3 and 6 s after the step.
    const Signal pulses = [](double t) {
        return set_pressure + (std::abs(t - 8) < 0.1 ? -1.5 * bar : 0)
               + (std::abs(t - 11) < 0.1 ? 2.25 * bar : 0);
    };
    SUBCASE("highest outlet pressure") {
        limits.highest_outlet_pressure = 6 * bar;
        CHECK(broken(limits, pulses) == Words{"highest outlet pressure 6.25 bar, limit 6.00 bar"});
        limits.highest_outlet_pressure = 6.25 * bar;
        CHECK(broken(limits, pulses).empty()); // a limit reached is kept
    }
    SUBCASE("lowest outlet pressure") {
        limits.lowest_outlet_pressure = 3 * bar;
        CHECK(broken(limits, pulses) == Words{"lowest outlet pressure 2.50 bar, limit 3.00 bar"});
    }
    SUBCASE("settling time") {
        limits.settling_time = 5;
        const auto words = broken(limits, pulses);
        REQUIRE(words.size() == 1);
        CHECK(words[0].starts_with("settling time 6.1")); // the end of the peak
    }
    SUBCASE("fall-off") {
        limits.fall_off = 0.5 * bar;
        CHECK(broken(limits, [](double t) { return t > 5 ? 3.25 * bar : set_pressure; })
              == Words{"fall-off 0.75 bar, limit 0.50 bar"});
    }
    SUBCASE("share delivered") {
        limits.share_delivered = 0.9; // 2 L/s are delivered, and from 5 s on 2.5 are wanted
        auto asked = scenario();
        asked.accept = limits;
        asked.demand.steps = {{5, 2.5 * litre, 0}};
        const auto words = finding_texts(
            judged(asked, "outlet.pressure", [](double) { return set_pressure; }).at(1).findings,
            asked.units);
        CHECK(words == Words{"share delivered 0.800, limit 0.900"});
        // Before 5 s nothing changes, and what a jump wants then is no matter of the event that it ends: 2 L/s of 2 L/s.
        asked.demand.start = 2 * litre;
        const auto both = judged(asked, "outlet.pressure", [](double) { return set_pressure; });
        CHECK(both.at(0).findings.empty());
        CHECK(both.at(0).wanted == doctest::Approx(2 * litre));
        CHECK(both.at(1).wanted == doctest::Approx(2.5 * litre));
        // Nor does a jump down at 10 s forgive what is missing until then.
        asked.demand.steps = {{5, 4 * litre, 1}, {10, 0, 0}};
        CHECK(judged(asked, "outlet.pressure", [](double) { return set_pressure; }).at(1).falls_short());
        asked.demand.steps = {{5, 0, 0}}; // nothing wanted, nothing missing
        CHECK(judged(asked, "outlet.pressure", [](double) { return set_pressure; }).at(1).findings.empty());
    }
    SUBCASE("hunting") {
        limits.hunting_peak_to_peak = 0.2 * bar;
        CHECK(broken(limits, swing(1 * bar)) == Words{"hunts 1.00 bar, limit 0.20 bar"});
        CHECK(broken(limits, swing(0.15 * bar)).empty());
    }
    SUBCASE("in US units") {
        auto asked = scenario();
        asked.units = scenarios::UnitSystem::us;
        asked.accept.highest_outlet_pressure = 70 * 6894.757293168; // Pa, of 70 psi: NIST SP 811 (2008), B.8
        const auto words =
            finding_texts(judged(asked, "outlet.pressure", pulses).at(1).findings, asked.units);
        CHECK(words == Words{"highest outlet pressure 90.6 psi, limit 70.0 psi"});
    }
}

TEST_CASE("a figure that breaks a limit is told with digits enough to differ from it") {
    constexpr double psi = 6894.757293168; // Pa: NIST SP 811 (2008), B.8
    const auto told = [&](double value, double bound) {
        const Finding finding{.limit = scenarios::Limit::highest_outlet_pressure,
                              .reason = Finding::Reason::beyond,
                              .value = value,
                              .bound = bound};
        return finding_text(finding, scenarios::UnitSystem::us);
    };
    CHECK(told(85.02 * psi, 85 * psi) == "highest outlet pressure 85.02 psi, limit 85.00 psi");
    CHECK(told(85.0003 * psi, 85 * psi) == "highest outlet pressure 85.0003 psi, limit 85.0000 psi");
    CHECK(told(85.2 * psi, 85 * psi) == "highest outlet pressure 85.2 psi, limit 85.0 psi");
    const auto share = shown_apart(0.89996, 0.9, scenarios::Dimension::ratio, scenarios::UnitSystem::si);
    CHECK(share.value != share.bound);
    CHECK(share.bound.find("0.900") == 0);
}

TEST_CASE(
    "every limit of the table is held against its metric, and its finding says which, by how much and why") {
    for (const auto& limit : scenarios::acceptance_limits) {
        INFO(limit.key);
        scenarios::Accept accept;
        const bool there = limit.of == scenarios::LimitOf::each_outlet;
        if (there)
            accept.outlets.emplace_back().outlet = "rooms";
        auto& bound = there ? accept.outlets[0].*limit.bound_there : accept.*limit.bound;
        bound = 1.0;
        EventVerdict event;
        event.highest = event.settling_time = event.fall_off = event.hunting.peak_to_peak =
            event.hunting.span = 2;
        event.hunting.kind = limit.limit == scenarios::Limit::hunting ? sim::Hunting::Kind::sustained
                                                                      : sim::Hunting::Kind::none;
        event.lowest = limit.at_least ? 0.5 : 2;
        event.wanted = limit.limit == scenarios::Limit::static_rise ? 0 : 1;
        event.flow = event.lowest;
        if (event.wanted == 0)
            event.fall_off = -2; // stands above the setting
        event.pipe_velocity = 2;
        event.cavitation_index = 0.5;
        event.outlets = {{.name = "rooms", .highest = 2, .lowest = 0.5, .flicker = 2}};
        event.reliefs = {{.name = "relief", .volume = 2}};
        const auto found = findings_of(event, accept);
        REQUIRE(found.size() == 1);
        CHECK(found[0].limit == limit.limit);
        CHECK(found[0].value == (limit.at_least ? 0.5 : 2));
        CHECK(found[0].bound == 1);
        CHECK_FALSE(found[0].undecided);
        CHECK(found[0].what() == scenarios::PlacedLimit{limit.limit, there ? "rooms" : ""});
        CHECK(in_file(found, false).starts_with(found[0].what().key() + ": "));
        CHECK(in_file(found, true).empty());
        bound = limit.at_least ? 0.5 : 2;
        CHECK(findings_of(event, accept).empty()); // a limit reached is kept
        const auto table = verdict_table({event}, accept);
        CHECK(std::ranges::count(table, found[0].what().metric(), &sim::Column::name) == 1);
        CHECK(scenarios::limit_of_column(found[0].what().metric()) == found[0].what());
    }
}

TEST_CASE("hunting for which no limit is stated fails what needs rest, once") {
    scenarios::Accept limits;
    limits.settling_time = 3;
    limits.fall_off = 1 * bar;
    CHECK(broken(limits, swing(1 * bar))
          == std::vector<std::string>{"hunts 1.00 bar: it neither settles nor has a fall-off"});
}

TEST_CASE("hunting is not also called a failure to settle") {
    scenarios::Accept limits;
    limits.hunting_peak_to_peak = 0.2 * bar;
    limits.settling_time = 3;
    CHECK(broken(limits, swing(1 * bar)).size() == 1);
}

TEST_CASE("a swing while nobody takes water is a shut-in line that rings, not hunting") {
    auto asked = scenario();
    asked.accept.hunting_peak_to_peak = 0.2 * bar;
    asked.demand.steps = {{5, 0, 1}};
    auto record = recording("outlet.pressure", swing(1 * bar));
    CHECK(judge(asked, record, interval).at(1).hunting.kind == sim::Hunting::Kind::sustained); // 2 L/s run
    for (std::size_t k = 0; k < record.time.size(); ++k)
        record.values[1][k] = record.time[k] > 6 ? 0 : 2 * litre;
    const auto verdict = judge(asked, record, interval).at(1);
    CHECK(verdict.hunting.kind == sim::Hunting::Kind::ringing_down);
    CHECK(verdict.passed());
}

TEST_CASE("a pressure that never comes to rest breaks a settling limit") {
    scenarios::Accept limits;
    limits.settling_time = 3;
    // It creeps: in the last quarter of the window, where it is to be at rest, by 0.2 bar; the band is 0.08 bar wide.
    const auto words =
        broken(limits, [](double t) { return set_pressure + 0.1 * bar * std::max(0.0, t - 5); });
    REQUIRE(words.size() == 1);
    CHECK(words[0].starts_with("does not settle"));
}

TEST_CASE("the fall-off of stages in parallel counts from the highest set pressure") {
    auto asked = scenario();
    auto record = recording("outlet.pressure", [](double) { return 3.5 * bar; });
    asked.stages.push_back(stage("bypass"));
    for (const std::string part : {"lift", "stem_speed", "set_pressure"}) {
        record.quantities.push_back({.name = "bypass." + part, .unit = "1", .typical = 1, .meaning = ""});
        record.values.emplace_back(record.time.size(), part == "set_pressure" ? 4.5 * bar : 0.0);
    }
    // Means of equal numbers: off by rounding only.
    CHECK(judge(asked, record, interval).at(1).fall_off == doctest::Approx(1 * bar).epsilon(1e-12));
}

TEST_CASE("a recording that ends early is judged as far as it goes") {
    const auto still = [](double) { return set_pressure; };
    const auto whole = judged(scenario(), "outlet.pressure", still, 7);
    REQUIRE(whole.size() == 2);
    CHECK(whole[1].window_end == doctest::Approx(7));
    CHECK(judged(scenario(), "outlet.pressure", still, 3).size() == 1);   // the step has not come
    CHECK(judged(scenario(), "outlet.pressure", still, 5.5).size() == 2); // the step is under way
}

TEST_CASE("two events within one sample do not hide those after them") {
    auto asked = scenario();
    asked.demand.steps = {{5, 2 * litre, 0}, {5.0002, 3 * litre, 0}, {9, 4 * litre, 0}};
    const auto verdicts = judged(asked, "outlet.pressure", [](double) { return set_pressure; });
    REQUIRE(verdicts.size() >= 3);
    CHECK(verdicts.back().event.at == 9);
}
