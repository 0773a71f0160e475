// Limits where people are: the pressure where water is drawn, the static rise, velocity in pipes, the cavitation index. On
// recordings made by hand, and on runs against what a pocket calculator says of them.
#include "tools/studies/places.h"

#include "scenarios/limits.h"
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/commands/finding_text.h"
#include "tools/commands/verdict_text.h"
#include "tools/results/doubts.h"
#include "tools/studies/limits_kept.h"
#include "tools/studies/second_grid.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <functional>
#include <numbers>
#include <string>
#include <vector>

using namespace needleturn;
using tests::relative;

namespace {

constexpr double bar = 1e5;       // Pa
constexpr double litre = 1e-3;    // m3
constexpr double interval = 1e-3; // s
constexpr double set_pressure = 4 * bar;

using Words = std::vector<std::string>;
using Signal = std::function<double(double t)>;

/// Rooms draw 2 L/s and shut at 5 s, within 1 s.
scenarios::Scenario rooms() {
    scenarios::Scenario made;
    made.title = "by hand";
    made.supply.pressure = 8 * bar;
    made.stages.emplace_back();
    made.stages[0].hardware = scenarios::PilotOperatedHardware{};
    made.stages[0].set_pressure = set_pressure;
    made.downstream.branches.emplace_back();
    made.downstream.branches[0].name = "top_rooms";
    made.downstream.branches[0].demand.start = 2 * litre;
    made.downstream.branches[0].demand.steps = {{5, 0, 1}};
    made.run.duration = 15;
    return made;
}

/// 15 s long: what `changed` says, all else still.
sim::Recording recording(const std::vector<std::pair<std::string, Signal>>& changed) {
    std::vector<std::pair<std::string, Signal>> signals{
        {"outlet.pressure", [](double) { return set_pressure; }},
        {"demand.flow", [](double) { return 0.0; }},
        {"top_rooms.flow", [](double t) { return t > 6 ? 0 : 2 * litre; }},
        {"far_end.pressure", [](double) { return set_pressure; }},
        {"top_rooms.pressure", [](double) { return 1.5 * bar; }},
        {"inlet.pressure", [](double) { return 8 * bar; }},
        {"main.set_pressure", [](double) { return set_pressure; }},
        {"main.lift", [](double) { return 0.01; }},
        {"main.stem_speed", [](double) { return 0.0; }}};
    for (const auto& [name, signal] : changed)
        std::ranges::find(signals, name, &std::pair<std::string, Signal>::first)->second = signal;
    sim::Recording made;
    for (const auto& [name, signal] : signals) {
        made.quantities.push_back({.name = name, .unit = "1", .typical = 1, .meaning = ""});
        auto& values = made.values.emplace_back();
        for (int k = 0; k <= 15000; ++k)
            values.push_back(signal(k * interval));
    }
    for (int k = 0; k <= 15000; ++k)
        made.time.push_back(k * interval);
    return made;
}

/// What is found in each of the two events.
std::vector<Words> found(const scenarios::Scenario& asked,
                         const std::vector<std::pair<std::string, Signal>>& changed) {
    std::vector<Words> all;
    for (const auto& event : judge(asked, recording(changed), interval))
        all.push_back(finding_texts(event.findings, asked.units));
    return all;
}

scenarios::OutletAccept at_rooms() {
    scenarios::OutletAccept limits;
    limits.outlet = "top_rooms";
    return limits;
}

/// A station in a line: 30 m of DN80 ahead, 20 m of DN80 to a header, a branch of DN50 that rises by 10 m.
scenarios::Scenario line(const std::string& accept, const std::string& steps = "[]",
                         const std::string& setting = "4.5 bar") {
    const std::vector<std::filesystem::path> hardware{std::filesystem::path(tests::source_folder())
                                                      / "scenarios/hardware"};
    return scenarios::parse_scenario(
        "title = \"line\"\n[supply]\npressure = \"7.5 bar\"\n"
        "pipe = { length = \"30 m\", kind = \"steel/DN80\" }\n[[stage]]\n"
        "hardware = \"pilot-operated/DN65\"\nset_pressure = \""
            + setting
            + "\"\nopening_control = \"1/2 turn\"\nclosing_control = \"6 turns\"\n"
              "[downstream]\npipe = { length = \"20 m\", kind = \"steel/DN80\" }\n"
              "[[downstream.branch]]\nname = \"top_rooms\"\n"
              "pipe = { length = \"12 m\", kind = \"steel/DN50\", rise = \"10 m\" }\n"
              "demand = { kind = \"draw\", start = \"5 L/s\", steps = "
            + steps + " }\n[demand]\nkind = \"draw\"\nstart = \"0 L/s\"\n[accept]\n" + accept
            + "\n[run]\nduration = \"3 s\"\n",
        "line.toml", {}, hardware);
}

double last_of(const Outcome& outcome, const std::string& signal) {
    return outcome.record.recording[signal].back();
}

} // namespace

TEST_CASE("a limit at an outlet is held against the pressure there, event by event") {
    auto asked = rooms();
    auto limits = at_rooms();
    limits.highest_pressure = 2 * bar;
    limits.lowest_pressure = 1 * bar;
    asked.accept.outlets = {limits};
    // A dip at 3 s and a peak at 8 s, 0.2 s wide: one in each event.
    const std::pair<std::string, Signal> pulses{"top_rooms.pressure", [](double t) {
                                                    return 1.5 * bar
                                                           + (std::abs(t - 3) < 0.1 ? -0.75 * bar : 0)
                                                           + (std::abs(t - 8) < 0.1 ? 0.75 * bar : 0);
                                                }};
    CHECK(found(asked, {pulses})
          == std::vector<Words>{{"lowest pressure at top rooms 0.75 bar, limit 1.00 bar"},
                                {"highest pressure at top rooms 2.25 bar, limit 2.00 bar"}});
    // The same at the outlet of the valve is no business of the rooms.
    CHECK(found(asked, {{"outlet.pressure", pulses.second}}) == std::vector<Words>{{}, {}});
    asked.accept.outlets[0].highest_pressure = 2.25 * bar; // a limit reached is kept
    asked.accept.outlets[0].lowest_pressure = 0.75 * bar;
    CHECK(found(asked, {pulses}) == std::vector<Words>{{}, {}});
    // The outlet at the far end is called demand.
    asked.accept.outlets[0].outlet = "demand";
    CHECK(found(asked, {{"far_end.pressure", pulses.second}})[1].empty());
    asked.accept.outlets[0].highest_pressure = 2 * bar;
    CHECK(found(asked, {{"far_end.pressure", pulses.second}})[1]
          == Words{"highest pressure at the demand 2.25 bar, limit 2.00 bar"});
}

TEST_CASE("a consumer ahead of the valve has the pressure at the inlet") {
    auto asked = rooms();
    asked.supply.consumers.emplace_back();
    asked.supply.consumers[0].name = "boiler";
    scenarios::OutletAccept limits;
    limits.outlet = "boiler";
    limits.lowest_pressure = 7 * bar;
    asked.accept.outlets = {limits};
    CHECK(found(asked, {{"inlet.pressure", [](double t) { return t > 7 ? 6.5 * bar : 8 * bar; }}})
          == std::vector<Words>{{}, {"lowest pressure at boiler 6.50 bar, limit 7.00 bar"}});
}

TEST_CASE("flicker is what the pressure at an outlet still swings by at the end of an event") {
    auto asked = rooms();
    auto limits = at_rooms();
    limits.flicker = 0.2 * bar;
    asked.accept.outlets = {limits};
    const auto sine = [](double peak_to_peak, double decay) -> Signal {
        return [=](double t) {
            return 1.5 * bar
                   + (t > 6 ? peak_to_peak / 2 * std::exp(-decay * (t - 6))
                                  * std::sin(4 * std::numbers::pi * (t - 6))
                            : 0);
        };
    };
    CHECK(found(asked, {{"top_rooms.pressure", sine(0.3 * bar, 0)}})
          == std::vector<Words>{{}, {"flicker at top rooms 0.30 bar, limit 0.20 bar"}});
    CHECK(found(asked, {{"top_rooms.pressure", sine(0.15 * bar, 0)}})[1].empty());
    CHECK(found(asked, {{"top_rooms.pressure", sine(0.9 * bar, 2)}})[1].empty()); // it has died away
}

TEST_CASE("hunting that the recording does not show leaves the flicker at an outlet open") {
    auto asked = rooms();
    auto limits = at_rooms();
    limits.flicker = 0.2 * bar;
    asked.accept.outlets = {limits};
    auto verdict = measure(asked, recording({}), interval);
    verdict[1].stability.kind = Stability::Kind::hunts_once_knocked;
    verdict[1].stability.cycle_known = true;
    verdict[1].stability.peak_to_peak = verdict[1].stability.span = 0.5 * bar;
    hold_against_limits(verdict, asked);
    CHECK_FALSE(verdict[1].breaks());
    CHECK(finding_texts(verdict[1].findings, asked.units)
          == Words{"undecided, flicker at top rooms: how much of the hunting that the recording does not "
                   "show arrives "
                   "there is not known, limit 0.20 bar"});
    CHECK(in_file(verdict[1].findings, true) == "top_rooms.flicker: not followed");
}

TEST_CASE("the static rise counts from the setting, at the end of an event that ends with nothing drawn") {
    auto asked = rooms();
    asked.accept.static_rise = 0.3 * bar;
    const auto stands = [](double rise) -> Signal {
        return [=](double t) { return t > 6 ? set_pressure + rise : set_pressure - 0.4 * bar; };
    };
    CHECK(found(asked, {{"outlet.pressure", stands(0.38 * bar)}})
          == std::vector<Words>{{}, {"static rise 0.38 bar, limit 0.30 bar"}});
    CHECK(found(asked, {{"outlet.pressure", stands(0.3 * bar - 1)}}) == std::vector<Words>{{}, {}});
    // Somebody draws on: the outlet stands high for another reason, and no event asks.
    asked.downstream.branches[0].demand.steps[0].to = 1e-4;
    CHECK(found(asked, {{"outlet.pressure", stands(0.38 * bar)}}) == std::vector<Words>{{}, {}});
}

TEST_CASE("an outlet that still rises with nothing drawn is undecided, one that still falls is not") {
    auto asked = rooms();
    asked.accept.static_rise = 1 * bar;
    const auto creeps = [](double by) -> Signal {
        return [=](double t) { return set_pressure + by * std::max(0.0, t - 6); };
    };
    const auto rising = found(asked, {{"outlet.pressure", creeps(0.1 * bar)}})[1];
    CHECK(rising == Words{"undecided, static rise: the outlet still rises at 15 s, limit 1.00 bar"});
    CHECK(found(asked, {{"outlet.pressure", creeps(-0.1 * bar)}})[1].empty());
}

TEST_CASE("a jump of the demand that begins the next event is not wanted in the one before") {
    auto asked = rooms();
    asked.accept.static_rise = 0.3 * bar;
    asked.downstream.branches[0].demand.steps = {{5, 0, 1}, {10, 2 * litre, 0}};
    const auto verdict = judge(
        asked,
        recording({{"outlet.pressure", [](double t) { return set_pressure + (t > 6 ? 0.5 * bar : 0); }}}),
        interval);
    REQUIRE(verdict.size() == 3);
    CHECK(verdict[1].wanted == 0);
    CHECK_FALSE(verdict[1].falls_short());
    CHECK(verdict[1].breaks());
    CHECK(verdict[2].wanted == 2 * litre);
    CHECK(verdict[2].passed());
    // A ramp that ends as the next change begins is complete.
    asked.downstream.branches[0].demand.steps = {{5, 1 * litre, 5}, {10, 2 * litre, 0}};
    CHECK(judge(asked, recording({}), interval)[1].wanted == 1 * litre);
}

TEST_CASE("a limit that is not asked of any event is said so, and is no pass in silence") {
    const auto asked = line("static_rise = \"0.3 bar\"");
    const auto warnings = warnings_of(asked);
    REQUIRE(warnings.size() == 1);
    CHECK(warnings[0].find("no event of the scenario ends with nothing drawn: accept.static_rise") == 0);
    const auto shut = line("static_rise = \"0.3 bar\"", "[{ at = \"1 s\", to = \"0 L/s\", over = \"1 s\" }]");
    CHECK(warnings_of(shut).empty());
    CHECK_FALSE(worst_event(scenarios::stated_limits(asked.accept).front(), {}).has_value());
}

TEST_CASE("velocity and cavitation index and pressure at the top are what a pocket calculator says"
          * doctest::test_suite("long")) {
    const auto asked = line("pipe_velocity = \"2 m/s\"\ncavitation_index = 3\n"
                            "top_rooms = { lowest_pressure = \"3 bar\", highest_pressure = \"3.2 bar\" }");
    const auto outcome = simulate(asked);
    const auto& event = outcome.verdict.at(0);
    // EN 10255 DN50, medium (from memory): 60.3 mm less twice 3.6 mm. Q / (pi d^2 / 4).
    const double velocity = 5e-3 / (std::numbers::pi / 4 * 0.0531 * 0.0531);
    CHECK(event.pipe_velocity == relative(velocity, 1e-6)); // 2.26 m/s; steady to the tolerance of the run
    CHECK(event.fastest_pipe == "top_rooms_pipe");
    // sigma of ISA-RP75.23, by the pressures at the valve; water at 15 degC boils at 1.706 kPa (steam table, from memory).
    const double inlet = last_of(outcome, "inlet.pressure"), outlet = last_of(outcome, "outlet.pressure");
    CHECK(event.cavitation_index == relative((inlet + 101325 - 1706) / (inlet - outlet), 1e-4));
    CHECK(event.cavitating_stage == "main");
    // At the top: 10 m of water at 999.1 kg/m3 (handbook, from memory) are 0.980 bar, and friction by Haaland's formula (from
    // memory) with 0.045 mm: 12 m of DN50 at 2.26 m/s, Re 1.05e5, f 0.0213: 0.123 bar; 20 m of DN80 at 0.97 m/s, Re 6.9e4,
    // f 0.0213: 0.025 bar.
    const double lost = 999.1 * 9.80665 * 10 + 0.123 * bar + 0.025 * bar;
    CHECK(std::abs(outlet - lost - event.outlets.at(0).lowest) < 0.01 * bar);
    const auto words = finding_texts(event.findings, asked.units);
    CHECK(std::ranges::any_of(words, [](const auto& text) {
        return text == "velocity 2.26 m/s in top rooms pipe, limit 2.00 m/s";
    }));
    CHECK(std::ranges::any_of(words, [](const auto& text) {
        return text.find("cavitation index 2.") == 0 && text.find(" of main (a screening), limit 3.00") > 0;
    }));
    CHECK(in_file(event.findings, false).find("pipe_velocity: beyond at top_rooms_pipe")
          != std::string::npos);
    // What is printed of every run anyway is the same.
    CHECK(outcome.surges.at(0).velocity == event.pipe_velocity);
    CHECK(outcome.surges.at(0).cavitation_index == event.cavitation_index);
    CHECK(verdict_text(asked, outcome).find("along the line, each at its worst:") != std::string::npos);
}

TEST_CASE("a run that keeps only what its limits read judges as one that keeps everything"
          * doctest::test_suite("long")) {
    auto asked = line("pipe_velocity = \"2 m/s\"\ncavitation_index = 3\nstatic_rise = \"0.1 bar\"\n"
                      "top_rooms = { lowest_pressure = \"3 bar\", flicker = \"0.02 bar\" }",
                      "[{ at = \"1 s\", to = \"0 L/s\", over = \"1 s\" }]");
    for (const bool cocks : {false, true}) {
        if (cocks)
            asked.stages[0].cock = asked.stages[0].outlet_cock = 1;
        const auto all = simulate(asked), judged = simulate(asked, {}, Signals::judged);
        REQUIRE(all.verdict.size() == judged.verdict.size());
        for (std::size_t i = 0; i < all.verdict.size(); ++i)
            CHECK(finding_texts(all.verdict[i].findings, asked.units)
                  == finding_texts(judged.verdict[i].findings, asked.units));
    }
}

TEST_CASE("columns of the verdict follow the limits that are stated, and no others are added") {
    scenarios::Accept accept;
    const auto plain = verdict_table({}, accept).size();
    accept.pipe_velocity = 2;
    accept.cavitation_index = 2;
    accept.static_rise = 0.3 * bar;
    auto limits = at_rooms();
    limits.lowest_pressure = 1 * bar;
    accept.outlets = {limits};
    const auto table = verdict_table({}, accept);
    CHECK(table.size() == plain + 6);
    for (const auto* name : {"static_rise", "pipe_velocity", "fastest_pipe", "cavitation_index",
                             "cavitating_stage", "top_rooms.lowest_pressure"})
        CHECK(std::ranges::count(table, name, &sim::Column::name) == 1);
    CHECK(scenarios::limit_of_column("top_rooms.lowest_pressure")
          == scenarios::PlacedLimit{scenarios::Limit::lowest_there, "top_rooms"});
    CHECK_FALSE(scenarios::limit_of_column("lowest_pressure").has_value());
    CHECK_FALSE(scenarios::limit_of_column("top_rooms.fall_off").has_value());
}
