/// The valves that the ranges of hardware allow: how they are drawn, and what is counted over them.
#include "tools/studies/valve_family.h"

#include "tests/own_folder.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/commands/run_uncertain.h"
#include "tools/studies/cases.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <string>
#include <vector>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

const std::filesystem::path night =
    std::filesystem::path(tests::source_folder()) / "scenarios/nursery-night.toml";

FamilyQuestion asked(std::size_t valves, std::vector<scenarios::Override> set = {}) {
    return {.scenario = night, .set = std::move(set), .valves = valves, .seed = 5};
}

/// Overrides that make every value of the hardware known exactly.
std::vector<scenarios::Override> all_known() {
    const auto stated = scenarios::read_scenario(night);
    std::vector<scenarios::Override> set;
    for (const auto& range : ranges_of(stated.stages.front().hardware))
        set.push_back({"main.override.ranges." + range.key + "=x/ 1"});
    return set;
}

/// A file of four valves with two events: one keeps all limits, one hunts by 1 bar, one is undecided, one could not be run.
sim::CasesFile four_valves() {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    sim::CasesFile file;
    file.events = 2;
    file.per_case = {{"main.override.pilot.capacity", "1", "", std::vector<double>{1, 2, 3, 4}},
                     {"failure", "", "", std::vector<std::string>{"", "", "", "no step is short enough"}},
                     {"passed", "1", "", std::vector<double>{1, 0, 0, 0}}};
    file.per_event = {
        {"broken", "", "",
         std::vector<std::string>{"", "", "", "lowest_outlet_pressure: beyond; hunting_peak_to_peak: hunts",
                                  "", "", "", ""}},
        {"swing", "Pa", "", std::vector<double>{0, 0, 0, 1e5, 0, 3e3, nan, nan}},
        {"highest", "Pa", "", std::vector<double>{4e5, 5e5, 4e5, 6e5, 4e5, 5.2e5, nan, nan}},
        {"lowest", "Pa", "", std::vector<double>{4e5, 3e5, 4e5, 1e5, 4e5, 3.5e5, nan, nan}},
        {"settling_time", "s", "", std::vector<double>(8, 1.0)},
        {"fall_off", "Pa", "", std::vector<double>(8, 1e4)}};
    file.axes = {{"case", "1", "", std::vector<double>{0, 1, 2, 3}}};
    return file;
}

} // namespace

TEST_CASE("a family fills every range: each of as many slices as there are valves holds one") {
    constexpr std::size_t valves = 20;
    const auto sweep = family_sweep(asked(valves));
    CHECK(sweep.study.cases() == valves);
    CHECK(sweep.lanes); // hardware alone is never another form of station
    Cases cases(sweep.study);
    const auto& ranges = ranges_of(sweep.base.stages.front().hardware);
    REQUIRE(sweep.study.vary.size() == ranges.size());
    for (std::size_t key = 0; key < ranges.size(); ++key) {
        CAPTURE(ranges[key].key);
        CHECK(sweep.study.vary[key].key == "main.override." + ranges[key].key);
        std::set<int> slices;
        for (std::size_t i = 0; i < valves; ++i) {
            const double value = cases.places(i)[key].number;
            slices.insert(static_cast<int>(valves * std::log(value / ranges[key].low)
                                           / std::log(ranges[key].high / ranges[key].low)));
        }
        CHECK(slices.size() == valves);
        CHECK(*slices.begin() == 0);
        CHECK(*slices.rbegin() == valves - 1);
    }
}

TEST_CASE("what was measured is not drawn and without any range there is no family") {
    const auto sweep = family_sweep(asked(10, {{"main.override.pilot.capacity=0.2 Cv"}}));
    CHECK(std::ranges::find(sweep.study.vary, "main.override.pilot.capacity", &scenarios::Factor::key)
          == sweep.study.vary.end());
    Cases cases(sweep.study);
    // Every valve of the family has the measured value, and the scenario of the file tells what is left to know.
    const auto one = sweep.file.read(cases.overrides(3));
    CHECK(one.stages.front().pilot_operated()->pilot.capacity
          == sweep.base.stages.front().pilot_operated()->pilot.capacity);
    CHECK(scenarios::parse_scenario(resolved(sweep.base), "file") == sweep.base);

    // The text of the study tells where each range is stated, but not in which folder: files of all machines are the same.
    CHECK(sweep.study.text.find("# pilot-operated.toml:") != std::string::npos);
    CHECK(sweep.study.text.find(night.parent_path().string()) == std::string::npos);
    CHECK(sweep.study.text.find("with --set \"main.override.pilot.capacity=0.2 Cv\"") != std::string::npos);

    // Own hardware written out without ranges.
    auto stated = scenarios::read_scenario(night);
    ranges_of(stated.stages.front().hardware).clear();
    const OwnFolder folder;
    const auto exact = folder / "exact.toml";
    std::ofstream(exact) << resolved(stated);
    try {
        (void)family_sweep({.scenario = exact, .set = {}});
        FAIL("a family without ranges");
    } catch (const scenarios::ScenarioError& error) {
        const std::string text = error.what();
        CHECK(text.find("exact.toml: no value of its hardware has a range") != std::string::npos);
        CHECK(text.find('\n') == std::string::npos);
    }
}

TEST_CASE("ranges without a width give the stated valve every time") {
    const auto sweep = family_sweep(asked(10, all_known()));
    Cases cases(sweep.study);
    for (const std::size_t number : {0U, 4U, 9U}) {
        auto valve = sweep.file.read(cases.overrides(number));
        auto stated = sweep.base;
        // As stated, but for what is known of it: that of an override is exact.
        ranges_of(valve.stages.front().hardware).clear();
        ranges_of(stated.stages.front().hardware).clear();
        CHECK(valve == stated);
    }
}

TEST_CASE("a family is counted by its worst event and the rest is not called kept") {
    auto stated = scenarios::read_scenario(night);
    scenarios::Study study;
    study.vary = {scenarios::ranged_factor("main.override.pilot.capacity", "1", "4",
                                           scenarios::Factor::Spacing::log, 0)};
    const auto family = judge_family(four_valves(), study, stated);
    CHECK(family.valves == 4);
    CHECK(family.kept == 1);
    CHECK(family.broken == 1);
    CHECK(family.undecided == 1);
    CHECK(family.failed == 1);
    CHECK(family.hunting == 2);
    REQUIRE(family.limits.size() == 3); // highest, lowest, hunting
    CHECK(family.limits[0].broken == 0);
    CHECK(family.limits[1].broken == 1);
    CHECK(family.limits[2].broken == 1);
    CHECK(family.limits[0].told == 3); // the one that could not be run says nothing
    CHECK(family.limits[0].at_50 == 5.2e5);
    CHECK(family.limits[0].at_5
          == relative(5e5 + 0.1 * 0.2e5, 1e-14)); // a tenth of the way from the first to the second
    CHECK(family.limits[1].at_50 == 3e5);         // the lowest of each
    // Three valves tell nothing of an input.
    REQUIRE(family.ranking);
    CHECK(!family.ranking->inputs.enough);
    CHECK(family.ranking->inputs.by_size.empty());
    CHECK(family.ranking->limit.limit
          == scenarios::Limit::lowest_outlet_pressure); // the first of those broken most often

    stated.accept = {};
    const auto unlimited = judge_family(four_valves(), study, stated);
    CHECK(unlimited.limits.empty());
    CHECK(unlimited.hunting == 2);
    CHECK(unlimited.ranking->limit.limit == scenarios::Limit::hunting);
}

TEST_CASE("the words on a family are those of its counts and never a pass that it does not show") {
    const auto stated = scenarios::read_scenario(night);
    const auto has = [](const std::string& text, const char* part) {
        return text.find(part) != std::string::npos;
    };
    const auto words = [&](std::size_t kept, std::size_t broken, std::size_t undecided,
                           const Outcome& outcome) {
        const FamilyVerdict family{
            .valves = kept + broken + undecided,
            .kept = kept,
            .broken = broken,
            .undecided = undecided,
            .limits = {{.limit = {scenarios::Limit::hunting}, .broken = broken, .told = kept + broken}},
            .ranking = {}};
        return family_text(asked(kept + broken + undecided), stated, family, outcome);
    };
    Outcome calm;
    calm.passed = true;
    Outcome hunts;
    hunts.verdict.resize(1);
    hunts.verdict[0].findings = {{.limit = scenarios::Limit::hunting, .value = 1e5, .bound = 2e4}};

    auto text = words(10, 0, 0, calm);
    CHECK(has(text, "PASS: all 10 such valves keep every limit; up to 25.9 % of all")); // 1 - 0.05^(1/10)
    CHECK(!has(text, "FAIL"));
    text = words(7, 3, 0, calm);
    CHECK(has(text, "FAIL: 3 of 10 such valves break a limit"));
    CHECK(has(text, "as stated keeps every limit; a real one of this kind may not"));
    CHECK(!has(text, "PASS"));
    text = words(7, 3, 0, hunts);
    CHECK(has(text, "as stated breaks a limit: hunting 1.00 bar, limit 0.20 bar"));
    CHECK(has(text, "as stated breaks one; 7 of 10 such valves do not"));
    text = words(0, 10, 0, hunts);
    CHECK(!has(text, "such valves do not"));
    text = words(8, 0, 2, calm);
    CHECK(has(text, "UNDECIDED: of 2 of 10 such valves it is not known whether every limit is kept"));
    CHECK(has(text, "it is not known"));
    CHECK(!has(text, "PASS"));
    CHECK(!has(text, "FAIL"));
}
