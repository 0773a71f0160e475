/// The live bench against a plain run of the scenario that it writes.
#include "tools/rig/rig_session.h"

#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/fault_signatures.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

using namespace needleturn;

namespace {

scenarios::Scenario demo(const std::string& name, const std::vector<std::string>& changes = {}) {
    std::vector<scenarios::Override> overrides;
    for (const auto& text : changes)
        overrides.push_back({text});
    return scenarios::read_scenario(tests::source_folder() + "/scenarios/" + name + ".toml", overrides);
}

/// Largest difference between what the session sampled of the outlet pressure and a run of its scenario, Pa.
double apart(const scenarios::Scenario& written, const std::vector<double>& samples) {
    const auto read = scenarios::parse_scenario(scenarios::resolved(written), "rig.toml");
    const auto outcome = simulate(read);
    REQUIRE(outcome.record.failure.empty());
    const auto& time = outcome.record.recording.time;
    const auto& pressure = outcome.record.recording["outlet.pressure"];
    double largest = 0;
    std::size_t compared = 0;
    for (std::size_t i = 0; i + 1 < samples.size(); i += 2) {
        const auto k = static_cast<std::size_t>(std::lround(samples[i] / (time[1] - time[0])));
        if (k >= pressure.size())
            continue;
        REQUIRE(time[k] == doctest::Approx(samples[i]));
        largest = std::max(largest, std::abs(pressure[k] - samples[i + 1]));
        ++compared;
    }
    REQUIRE(compared + 2 >= pressure.size()); // all but the start, and the end if it is a rounding away
    return largest;
}

} // namespace

TEST_CASE("a run of the scenario that a session writes repeats the session") {
    RigSession session(demo("nursery-bled"));
    session.watch({"outlet.pressure"}, 1e-3);
    std::vector<double> samples;
    const auto pass = [&](double seconds) { // in frames, as a page does
        const double end = session.time() + seconds;
        while (session.time() < end)
            session.advance(std::min(end, session.time() + 0.0163));
        const auto some = session.take_samples();
        samples.insert(samples.end(), some.begin(), some.end());
    };
    pass(1.2);
    session.turn("demand", 9e-3, 0.7);
    pass(0.4); // a hand changes its mind half way
    session.turn("demand", 8e-3, 0.1);
    pass(2);
    session.turn("main.opening_control", 1.5, 0.1);
    session.turn("main.air_in_cover", 5e-6, 0.1);
    pass(1);
    session.turn("supply", 7.2e5, 0.5);
    session.turn("main.set_pressure", 4.3e5, 1);
    pass(3);
    // The tolerance of the run, 1e-5 of the typical size of a pressure, 1 bar. Seen: 0.01 Pa.
    CHECK(apart(session.so_far(), samples) < 1);
}

TEST_CASE("what a hand turns drops what the file had in store for that control, and nothing else") {
    RigSession session(demo("nursery-air")); // demand up at 3 s and down at 15 s
    session.advance(2);
    session.turn("main.opening_control", 1, 0.1);
    CHECK(session.so_far().demand.steps.size() == 2);
    session.turn("demand", 8e-3, 0.1);
    const auto& steps = session.so_far().demand.steps;
    REQUIRE(steps.size() == 1);
    CHECK(steps[0] == scenarios::Step{2, 8e-3, 0.1});
    CHECK(session.so_far().adjustments.size() == 1);
}

TEST_CASE("hands one behind the other, at tenths of seconds, never stop the solver") {
    const unsigned seed = std::random_device{}();
    CAPTURE(seed);
    std::mt19937 random(seed);
    const auto between = [&](double low, double high) {
        return std::uniform_real_distribution(low, high)(random);
    };
    for (int sessions = 0; sessions < 20; ++sessions) {
        RigSession session(demo("nursery-bled", {"demand.steps=[]"}));
        std::string done;
        for (int hands = 0; hands < 12; ++hands) {
            // Most hands begin where the one before ends: 1.1 s and 0.1 s are a rounding error more than 1.2 s.
            session.advance(std::ceil(10 * session.time() + 1 + (hands % 4 == 3 ? between(0, 5) : 0)) / 10);
            const auto& hand = session.controls()[random() % session.controls().size()];
            const double here = session.value(hand), way = between(-0.4, 0.4) * (hand.high - hand.low);
            const double to = std::clamp(here + way, hand.low, hand.high);
            done += fmt::format("{} s: {} to {}\n", session.time(), hand.name, to);
            session.turn(hand.name, to, 0.1);
        }
        CAPTURE(done);
        REQUIRE_NOTHROW(session.advance(session.time() + 1));
    }
}

TEST_CASE("going back restores the instant to the last bit, and the scenario with it") {
    RigSession session(demo("nursery-bled"));
    session.advance(1.234);
    session.remember();
    const auto values = session.values();
    const auto written = scenarios::resolved(session.so_far());
    session.turn("main.air_in_cover", 60e-6, 0.1);
    session.turn("demand", 1e-3, 0.1);
    session.advance(3);
    CHECK(session.values() != values);
    REQUIRE(session.back());
    CHECK(session.values() == values);
    CHECK(scenarios::resolved(session.so_far()) == written);
    CHECK_FALSE(session.back());
}

TEST_CASE("a twin goes the same way to the last bit until a hand tells them apart") {
    RigSession session(demo("nursery-night"));
    session.advance(4.2);
    const auto twin = session.twin();
    session.advance(6);
    twin->advance(6);
    CHECK(session.values() == twin->values());
    twin->turn("main.opening_control", 0.5, 0.1);
    session.advance(7);
    twin->advance(7);
    CHECK(session.values() != twin->values());
}

TEST_CASE("each control of a session moves its own drive and no other") {
    const auto scenario = demo("school-staged");
    RigSession any(scenario);
    for (const auto& control : any.controls()) {
        CAPTURE(control.name);
        RigSession session(scenario);
        session.advance(0.5);
        const auto drives = session.station().states().size();
        const auto count = session.station().drives().size();
        const auto before = session.values();
        const double to = control.low + 0.4 * (control.high - control.low);
        session.turn(control.name, to, 0.1);
        session.advance(0.7);
        CHECK(session.value(control) == doctest::Approx(to).epsilon(0.02));
        std::vector<std::string> moved;
        for (std::size_t i = drives; i < drives + count; ++i)
            if (session.values()[i] != before[i])
                moved.push_back(session.quantities()[i].name);
        if (control.entry().at_once()) { // a state, not a drive
            CHECK(moved.empty());
        } else {
            REQUIRE(moved.size() == 1);
            const auto expected = control.name == "supply"   ? "source.pressure"
                                  : control.name == "demand" ? "demand.capacity"
                                                             : control.name;
            CHECK(moved[0] == expected);
        }
    }
}

TEST_CASE("a bench as it stands starts at rest with what hands have set") {
    RigSession session(demo("nursery-bled"));
    session.turn("main.closing_control", 2, 0.1);
    session.turn("demand", 8e-3, 0.5);
    session.turn("main.air_in_cover", 20e-6, 0);
    session.advance(1);
    const auto standing = session.as_it_stands();
    CHECK(standing.demand.start == 8e-3);
    CHECK(standing.demand.steps.empty());
    CHECK(standing.adjustments.empty());
    CHECK(standing.stages[0].closing_control == 2);
    CHECK(standing.stages[0].opening_control == 3);
    // The cover's pressure has moved with the flow, and the air with it.
    CHECK(standing.stages[0].air_in_cover.volume == doctest::Approx(20e-6).epsilon(0.1));
}

TEST_CASE("a control refuses what it cannot be turned to") {
    RigSession session(demo("nursery-bled"));
    CHECK_THROWS_AS(session.turn("main.opening_control", 6.5, 0.1), std::invalid_argument);
    CHECK_THROWS_AS(session.turn("demand", -1, 0.1), std::invalid_argument);
    CHECK_THROWS_AS(session.turn("demand", std::nan(""), 0.1), std::invalid_argument);
    CHECK_THROWS_AS(session.turn("main.spring", 1, 0.1), std::out_of_range);
}

TEST_CASE("a station to hide a fault in is the bench as it stands with what its scenario asks of it") {
    const auto scenario = demo("nursery-bled");
    RigSession session(scenario);
    session.turn("main.closing_control", 2, 0.1);
    session.turn("demand", 8e-3, 0.5);
    session.advance(1);
    const auto station = session.as_set();
    CHECK(station.stages[0].closing_control == 2);
    CHECK(station.demand.start == scenario.demand.start);
    CHECK(station.demand.steps.size() == scenario.demand.steps.size());
}

TEST_CASE("a bench without its schedule stands still and hands reach as far") {
    RigSession plain(demo("nursery-bled")), still(demo("nursery-bled"));
    still.drop_schedule();
    const auto demand_of = [](const RigSession& session) {
        return *std::ranges::find(session.controls(), "demand", &RigControl::name);
    };
    CHECK(demand_of(still).high == demand_of(plain).high);
    const double start = still.value(demand_of(still));
    for (auto* session : {&plain, &still})
        session->advance(10); // between the demand's rise and its fall
    CHECK(still.value(demand_of(still)) == start);
    CHECK(plain.value(demand_of(plain)) != start);
}

TEST_CASE("a bench with a fault and its twin show what faults tells of it") {
    // Rows of time and two signals; `column` is one of these.
    const auto mean_of_watched = [](const std::vector<double>& rows, std::size_t column) {
        double sum = 0;
        for (std::size_t i = 0; i < rows.size(); i += 3)
            sum += rows[i + column];
        return sum / (static_cast<double>(rows.size()) / 3);
    };
    const auto scenario = demo("nursery-bled");
    const auto flows = proof_flows(scenario);
    for (const auto fault : {Fault::main_diaphragm_leaking, Fault::inlet_starved, Fault::seat_held_open}) {
        const auto signature = fault_signature(scenario, fault);
        auto [station, wear] = with_fault(as_adjusted(scenario), fault);
        RigSession bench(station, wear);
        bench.drop_schedule();
        bench.turn("demand", flows.low, 0.1);
        const auto twin = bench.twin();
        for (auto* session : {&bench, twin.get()}) {
            // As fault_signatures.cpp goes through it.
            session->advance(15);
            session->turn("demand", flows.full, 2);
            session->watch({"outlet.pressure", "inlet.pressure"}, 1e-3);
            session->advance(34);
            session->take_samples();
            session->advance(40);
            const double inlet = mean_of_watched(session->take_samples(), 2);
            // The tolerance of a run is 1 Pa a step, and a bench begins its steps anew at each hand. Seen: 0.04 Pa.
            CHECK(std::abs(inlet - signature[Reading::inlet]) < 5);
            session->turn("demand", flows.low, 10);
            session->advance(55);
            session->turn("demand", 0, 10);
            session->advance(87);
            session->take_samples();
            session->advance(90);
            const double outlet = mean_of_watched(session->take_samples(), 1);
            CHECK(std::abs(outlet - signature[Reading::static_pressure]) < 5); // seen: 0.7 Pa
        }
    }
}
