// What is said of relief valves, on recordings made by hand: openings, time, volume, chatter and flutter, and when their limit is
// not decided.
#include "tools/studies/relief_analysis.h"

#include "tests/relative.h"
#include "tools/studies/limits_kept.h"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <string>
#include <vector>

using namespace needleturn;
using tests::relative;

namespace {

constexpr double bar = 1e5, interval = 1e-3, full_lift = 5e-3; // Pa, s, m

scenarios::Scenario station() {
    scenarios::Scenario made;
    made.downstream.reliefs.emplace_back();
    made.downstream.reliefs[0].set_pressure = 6 * bar;
    made.downstream.reliefs[0].seat_bore = 4 * full_lift;
    return made;
}

/// 4 s of a lift, m, with 2 L/s while it is open and 5.9 bar at the outlet.
ReliefVerdict seen(const std::function<double(double t)>& lift) {
    sim::Recording made;
    std::vector<std::vector<double>> values(4);
    double volume = 0;
    for (int k = 0; k <= 4000; ++k) {
        const double t = k * interval, x = lift(t);
        volume += x > 0 ? 2e-3 * interval : 0;
        values[0].push_back(x);
        values[1].push_back((lift(t + 1e-6) - x) / 1e-6);
        values[2].push_back(volume);
        values[3].push_back(5.9 * bar);
        made.time.push_back(t);
    }
    for (const auto* name : {"relief.lift", "relief.speed", "relief_meter.volume", "outlet.pressure"}) {
        made.values.push_back(values[made.quantities.size()]);
        made.quantities.push_back({.name = name, .unit = "1", .typical = 1, .meaning = ""});
    }
    const auto verdicts = relief_verdicts(station(), made, {0, 0, 0, 4001}, interval);
    REQUIRE(verdicts.size() == 1);
    return verdicts[0];
}

double swing(double t, double hertz) { return std::sin(2 * std::numbers::pi * hertz * t); }

} // namespace

TEST_CASE("a relief valve that stays shut lets nothing out, and its distance to the set pressure is told") {
    const auto shut = seen([](double) { return -1e-6; });
    CHECK_FALSE(shut.opens());
    CHECK(shut.openings == 0);
    CHECK(shut.volume == 0);
    CHECK(shut.margin == relative(0.1 * bar, 1e-9));
}

TEST_CASE("one that opens once is open from where it lifts to where it shuts, and does not chatter") {
    const auto once = seen([](double t) { return t > 1.0005 && t < 3.0005 ? full_lift : -1e-6; });
    CHECK(once.openings == 1);
    CHECK(once.opens_at == relative(1.001, 1e-9));
    CHECK(once.shuts_at == relative(3.001, 1e-9));
    CHECK(once.open_for == relative(2, 1e-9));
    CHECK(once.volume == relative(4e-3, 1e-3)); // 2 L/s for 2 s, to a sample
    CHECK(once.highest_lift == full_lift);
    CHECK_FALSE(once.open_at_end);
    CHECK_FALSE(once.chatters());
    CHECK_FALSE(once.flutters());
}

TEST_CASE(
    "one that strikes its seat chatters, one that swings above it flutters, one that opens now and then "
    "does neither") {
    const auto chatter = seen([](double t) { return 0.4 * full_lift * swing(t, 20); });
    CHECK(chatter.chatters());
    CHECK(chatter.frequency == relative(20, 0.01));
    CHECK(chatter.openings == 80);
    // Fastest on its seat: amplitude times angular frequency
    CHECK(chatter.hardest == relative(0.4 * full_lift * 2 * std::numbers::pi * 20, 0.05));
    const auto flutter = seen([](double t) { return full_lift * (0.5 + 0.2 * swing(t, 20)); });
    CHECK(flutter.flutters());
    CHECK_FALSE(flutter.chatters());
    CHECK(flutter.frequency == relative(20, 0.01));
    CHECK(flutter.open_at_start);
    CHECK(flutter.open_at_end);
    const auto slow = seen([](double t) { return 0.4 * full_lift * swing(t, 0.9); });
    CHECK(slow.openings >= 3);
    CHECK_FALSE(slow.chatters());
    const auto little = seen([](double t) { return full_lift * (0.5 + 0.04 * swing(t, 20)); });
    CHECK_FALSE(little.flutters()); // less than a tenth of its lift
}

TEST_CASE("that a relief valve stays shut is not decided where hunting may reach it that nobody followed") {
    scenarios::Accept accept;
    accept.relief_volume = 0;
    EventVerdict event;
    event.settling_time = 0;
    event.reliefs = {{.name = "relief", .margin = 0.5 * bar}};
    CHECK(findings_of(event, accept).empty());
    event.stability.kind = Stability::Kind::undecided;
    auto found = findings_of(event, accept);
    REQUIRE(found.size() == 1);
    CHECK(found[0].undecided);
    CHECK(found[0].reason == Finding::Reason::not_followed);
    // Still rising as the run ends.
    event.stability = {};
    event.last = event.rises_at_end = true;
    event.settling_time = std::numeric_limits<double>::infinity();
    found = findings_of(event, accept);
    REQUIRE(found.size() == 1);
    CHECK(found[0].reason == Finding::Reason::not_at_rest);
    CHECK(found[0].undecided);
    // Open, within its limit, and not over.
    accept.relief_volume = 1;
    event.reliefs[0].open_at_end = true;
    event.reliefs[0].volume = 0.5;
    found = findings_of(event, accept);
    REQUIRE(found.size() == 1);
    CHECK(found[0].reason == Finding::Reason::still_open);
    event.last = false; // another event goes on from there
    CHECK(findings_of(event, accept).empty());
}
