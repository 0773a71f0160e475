/// Sweeps through the program as a user runs it: interruption, shards, threads, failing cases, wrong studies.
#include "scenarios/read_scenario.h"
#include "tests/tools/small_sweep.h"
#include "tools/studies/station_lanes.h"
#include "tools/studies/sweep_case.h"
#include "tools/studies/verdict.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <random>
#include <utility>
#include <vector>

using namespace needleturn;
using namespace needleturn::tests;

namespace {

std::string read_error(const std::string& study_text) {
    const OwnFolder folder;
    const auto path = folder / "study.toml";
    std::ofstream(path) << study_text;
    try {
        read_sweep(path);
    } catch (const scenarios::ScenarioError& error) {
        return error.what();
    }
    return {};
}

const std::string night =
    std::string("scenario = \"") + NEEDLETURN_SOURCE_DIR + "/scenarios/nursery-night.toml\"\n";

bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// How far the values of a case in a lane and alone lie apart, in parts of what is allowed: a part of the value, and what a gauge, a
/// ruler or a stopwatch does not show. Both ways differ by rounding; where the valve hunts, the smallest difference grows.
double apart(const sim::CasesColumn& column, double a, double b, double part) {
    if (a == b || (std::isnan(a) && std::isnan(b)))
        return 0;
    const std::map<std::string, double> unseen{{"Pa", 500},      {"s", 0.01},     {"m", 2e-5},
                                               {"m3 s-1", 1e-6}, {"Pa s-1", 5e4}, {"m s-1", 1e-3},
                                               {"Hz", 0.01},     {"1", 0.01},     {"s-1", 1e-3}};
    const double by = std::abs(a - b) / (part * std::abs(b) + unseen.at(column.unit));
    return std::isnan(by) ? std::numeric_limits<double>::infinity() : by;
}

/// What becomes of a motion long after the event.
bool far_ahead(const std::string& column) { return column.starts_with("cycle_") || column == "swing"; }

/// Which part of a value may differ. Of hunting in the window: a hundredth, up to which regular hunting keeps what a step's
/// tolerance disturbs, and a tenth of hunting of no one size. Of a cycle long after: twice the hundredth to which it has settled when
/// it is called reached; of irregular motion, whose largest swing depends on when one looks, a third.
double allowed_part(bool later, const std::string& pattern) {
    const bool regular = pattern == "regular";
    return later ? (regular ? 0.02 : 0.33) : (regular ? 0.01 : 0.1);
}

} // namespace

TEST_CASE("a sweep killed at random times and resumed leaves the file of an uninterrupted one"
          * doctest::test_suite("long")) {
    const OwnFolder folder;
    const auto alone = write_small_study(folder), in_lanes = write_small_lanes_study(folder);
    REQUIRE(!read_sweep(alone).lanes);
    REQUIRE(read_sweep(in_lanes).lanes);
    for (const auto& study : {alone, in_lanes}) {
        CAPTURE(study);
        const auto whole = folder / "whole.h5", killed = folder / "killed.h5";
        // The clock only spreads the kills over the sweep: what is checked holds wherever they fall.
        const auto began = std::chrono::steady_clock::now();
        REQUIRE(run_program({"sweep", study.string(), "-o", whole.string(), "-j", "2"}) == 0);
        const double length = std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();

        const auto seed = std::random_device{}();
        std::printf("seed of the kills: %u\n", seed);
        std::mt19937 random(seed);
        int finished = 0;
        const int wanted =
            std::getenv("NEEDLETURN_KILLS") != nullptr ? std::atoi(std::getenv("NEEDLETURN_KILLS")) : 10;
        for (int kills = 0; kills < wanted; ++kills) {
            const pid_t child = start_program({"sweep", study.string(), "-o", killed.string(), "-j", "3"});
            const double wait = std::uniform_real_distribution(0.0, length)(random) / 2;
            std::this_thread::sleep_for(std::chrono::duration<double>(wait));
            kill(child, SIGKILL);
            const int code = end_of(child);
            CHECK((code == 0 || code == -SIGKILL));
            if (!std::filesystem::exists(killed))
                continue;
            // Either there is no file or it is the whole one; then the next round begins anew.
            ++finished;
            REQUIRE(bytes_in(killed) == bytes_in(whole));
            std::filesystem::remove(killed);
        }
        std::printf("%d kills, %d files finished among them\n", wanted, finished);
        constexpr int many = 100;
        CHECK((wanted < many || finished > 0)); // or nothing was ever resumed to its end
        REQUIRE(run_program({"sweep", study.string(), "-o", killed.string(), "-j", "2"}) == 0);
        CHECK(bytes_in(killed) == bytes_in(whole));
        CHECK(!std::filesystem::exists(killed.string() + ".journal"));
        std::filesystem::remove(killed);
        std::filesystem::remove(whole);
    }
}

TEST_CASE("an interrupted sweep says so, and four shards joined are the single run bit for bit") {
    const OwnFolder folder;
    const auto study = write_small_study(folder).string();
    const auto whole = folder / "whole.h5", joined = folder / "joined.h5";
    REQUIRE(run_program({"sweep", study, "-o", whole.string(), "-j", "1"}) == 0);
    for (const auto* shard : {"3/4", "1/4", "4/4"})
        REQUIRE(run_program({"sweep", study, "-o", joined.string(), "--shard", shard}) == 0);
    // With a part missing there is nothing to join, and nothing is written.
    CHECK(run_program({"join", study, "-o", joined.string(), "--parts", "4"}) == 2);
    CHECK(!std::filesystem::exists(joined));
    REQUIRE(run_program({"sweep", study, "-o", joined.string(), "--shard", "2/4"}) == 0);
    REQUIRE(run_program({"join", study, "-o", joined.string(), "--parts", "4"}) == 0);
    CHECK(bytes_in(joined) == bytes_in(whole));
    // Run again, both find their work done.
    CHECK(run_program({"sweep", study, "-o", joined.string()}) == 0);

    // Thousands of cases: not done before the signal comes, however long a busy machine keeps us waiting.
    auto text = bytes_in(study);
    text.replace(text.find("points = 4"), 10, "points = 4000");
    const auto stopped = folder / "stopped.h5", endless = folder / "endless.toml";
    std::ofstream(endless) << text;
    const pid_t child = start_program({"sweep", endless.string(), "-o", stopped.string(), "-j", "1"});
    while (!std::filesystem::exists(stopped.string() + ".journal"))
        std::this_thread::sleep_for(std::chrono::milliseconds(1));
    kill(child, SIGINT);
    const int code = end_of(child);
    CHECK((code == 3 || code == -SIGINT)); // the signal may come before the program listens
    CHECK(!std::filesystem::exists(stopped));
}

TEST_CASE("a journal or file of another study is refused, not mixed in") {
    const OwnFolder folder;
    const auto study = write_small_study(folder);
    const auto file = (folder / "a.h5").string();
    REQUIRE(run_program({"sweep", study.string(), "-o", file}) == 0);
    const auto before = bytes_in(file);
    std::ofstream(study, std::ios::app) << "# another text\n";
    CHECK(run_program({"sweep", study.string(), "-o", file}) == 2);
    CHECK(bytes_in(file) == before);
}

TEST_CASE("a scenario or hardware file that is edited while its sweep runs is not mixed in") {
    const OwnFolder folder;
    const std::filesystem::path scenarios = NEEDLETURN_SOURCE_DIR "/scenarios";
    const auto scenario = folder / "night.toml";
    const auto hardware = folder / "hardware" / "pilot-operated.toml";
    std::filesystem::copy_file(scenarios / "nursery-night.toml", scenario);
    std::filesystem::copy(scenarios / "hardware", folder / "hardware");
    const auto path = folder / "study.toml";
    std::ofstream(path) << R"(scenario = "night.toml"
[[vary]]
key = "main.hardware"
list = ["pilot-operated/DN65", "pilot-operated/DN80"]
[[vary]]
key = "run.duration"
list = ["6 s"]
)";
    const auto edit = [](const std::filesystem::path& file, const std::string& from, const std::string& to) {
        auto text = bytes_in(file);
        REQUIRE(text.find(from) != std::string::npos);
        text.replace(text.find(from), from.size(), to);
        std::ofstream(file) << text;
    };
    const auto sweep = read_sweep(path);
    REQUIRE(read_sweep(path).identity == sweep.identity);
    Cases cases(sweep.study);
    const auto before = bytes_of(run_case(sweep, cases, 1, {}));

    edit(scenario, "pressure = \"7.5 bar\"", "pressure = \"6.5 bar\"");
    CHECK(bytes_of(run_case(sweep, cases, 1, {})) == before);
    CHECK(read_sweep(path).identity != sweep.identity);
    edit(scenario, "pressure = \"6.5 bar\"", "pressure = \"7.5 bar\"");
    REQUIRE(read_sweep(path).identity == sweep.identity);

    // Of a valve that only the second case has.
    const auto of_second = bytes_in(hardware).find("[DN80]");
    REQUIRE(of_second != std::string::npos);
    auto text = bytes_in(hardware);
    const auto number = text.find("moving_mass = ", of_second);
    REQUIRE(number != std::string::npos);
    text.insert(text.find('"', number) + 1, "1");
    std::ofstream(hardware) << text;
    CHECK(bytes_of(run_case(sweep, cases, 1, {})) == before);
    CHECK(read_sweep(path).identity != sweep.identity);
}

TEST_CASE("every case has its rows, and one that cannot be run says why") {
    const OwnFolder folder;
    const auto sweep = read_sweep(write_small_study(folder));
    REQUIRE(sweep.study.cases() == 24);
    Cases cases(sweep.study);
    const auto failure = place_of(sweep.per_case, "failure");
    for (const std::size_t number : {std::size_t{0}, std::size_t{23}}) {
        const auto rows = run_case(sweep, cases, number, {});
        CHECK(rows.events.size() == sweep.events);
        CHECK(rows_from(sweep, bytes_of(rows)).self.words == rows.self.words);
        CHECK(rows_from(sweep, bytes_of(rows)).events.front().numbers.size()
              == rows.events.front().numbers.size());
        if (number == 0)
            CHECK(rows.self.words[failure].empty());
    }
    // A case whose key cannot be read is a row too: the study changes under the sweep's feet.
    auto spoilt = sweep;
    spoilt.study.vary[2].list[0].text = "7.5 furlongs";
    Cases other(spoilt.study);
    const auto rows = run_case(spoilt, other, 0, {});
    CHECK(says(rows.self.words[failure], "furlongs"));
    CHECK(rows.self.numbers[place_of(sweep.per_case, "passed")] == 0);
}

TEST_CASE("a case of a sweep has the metrics of the same run on its own") {
    const OwnFolder folder;
    const auto sweep = read_sweep(write_small_study(folder));
    Cases cases(sweep.study);
    const std::size_t number = 4;
    const auto rows = run_case(sweep, cases, number, {});
    const auto outcome = simulate(scenarios::read_scenario(sweep.study.scenario, cases.overrides(number)));
    REQUIRE(outcome.verdict.size() == rows.events.size());
    const auto at = place_of(sweep.per_event, "highest");
    for (std::size_t i = 0; i < rows.events.size(); ++i)
        CHECK(rows.events[i].numbers[at]
              == outcome.verdict[i].highest); // the same computation: the same bits
}

TEST_CASE("a grid runs through its keys with the last one fastest, from end to end") {
    const OwnFolder folder;
    const auto sweep = read_sweep(write_small_study(folder));
    Cases cases(sweep.study);
    CHECK(cases.places(0)[1].number == 0.5);
    CHECK(cases.places(0)[2].text == "7.5 bar");
    CHECK(cases.places(1)[2].text == "6 bar");
    CHECK(cases.places(9)[1].number == 6.0);
    CHECK(cases.places(12)[0].text == "2");
}

TEST_CASE("many numbered cases come back in order, numbers, words and all") {
    const OwnFolder folder;
    sim::CasesLayout layout;
    layout.numbered = 40'000; // more than HDF5 gets at a time, of anything
    layout.per_case = {{"root", "1", "of the number"}, {"parity", "", "", true}};
    sim::write_cases(folder / "many.h5", layout, [](std::size_t number) -> sim::CaseRows {
        return {{{std::sqrt(static_cast<double>(number))}, {number % 2 == 0 ? "even" : "odd"}}, {}};
    });
    const auto file = sim::read_cases(folder / "many.h5");
    REQUIRE(file.cases() == layout.numbered);
    const auto& numbers = std::get<std::vector<double>>(file.axes.front().rows);
    const auto& roots = std::get<std::vector<double>>(file.per_case[0].rows);
    const auto& parities = std::get<std::vector<std::string>>(file.per_case[1].rows);
    std::size_t wrong = 0;
    for (std::size_t i = 0; i < numbers.size(); ++i) {
        const auto number = static_cast<double>(i);
        wrong += numbers[i] == number && roots[i] == std::sqrt(number)
                         && parities[i] == (i % 2 == 0 ? "even" : "odd")
                     ? 0
                     : 1;
    }
    CHECK(wrong == 0);
}

TEST_CASE("a wrong study says in one line what is wrong and what is allowed") {
    const std::string vary = "[[vary]]\nkey = \"main.opening_control\"\n";
    CHECK(says(read_error(night), "vary"));
    CHECK(says(read_error("scenari = \"x\"\n"), "nearest is scenario"));
    CHECK(says(read_error(night + vary), "either list, or from and to"));
    CHECK(says(read_error(night + vary + "list = [\"1 turn\"]\nfrom = \"1 turn\"\n"),
               "either list, or from and to"));
    CHECK(says(read_error(night + vary + "from = \"1 turn\"\nto = \"2 bar\"\npoints = 3\n"), "of one kind"));
    CHECK(says(read_error(night + vary + "from = \"2 turns\"\nto = \"1 turn\"\npoints = 3\n"),
               "greater than from"));
    CHECK(says(read_error(night + vary + "from = \"1 turn\"\nto = \"2 turns\"\n"), "points"));
    CHECK(says(read_error(night + vary + "from = \"1 turn\"\nto = \"60 turns\"\npoints = 3\n"),
               "out of range"));
    CHECK(says(read_error(night + "plan = \"sobol\"\n" + vary + "list = [\"1 turn\"]\n"), "cases"));
    CHECK(
        says(read_error(night + "plan = \"sobel\"\n" + vary + "list = [\"1 turn\"]\n"), "nearest is sobol"));
    CHECK(says(
        read_error(night + vary + "from = \"0 turns\"\nto = \"2 turns\"\npoints = 3\nspacing = \"log\"\n"),
        "begins above 0"));
    CHECK(says(read_error(night + "keep = { cases = [9] }\n" + vary + "list = [\"1 turn\"]\n"), "0 to 0"));
}

namespace {

/// All cases of a sweep by run_cases, as the program runs them.
std::vector<sim::CaseRows> rows_of_all(const Sweep& sweep, Cases& cases) {
    std::vector<sim::CaseRows> rows(sweep.study.cases());
    std::size_t next = 0, done = 0;
    run_cases(sweep, cases,
              {[&]() -> std::optional<std::size_t> {
                   return next < rows.size() ? std::optional(next++) : std::nullopt;
               },
               [&](std::size_t number, const sim::CaseRows& of) {
                   rows[number] = of;
                   ++done;
                   return true;
               },
               [] { return true; }});
    REQUIRE(done == rows.size());
    return rows;
}

/// Each case of a sweep in lanes against the same case alone.
void check_against_alone(const Sweep& sweep, Cases& cases, const std::vector<sim::CaseRows>& rows) {
    std::size_t same_words = 0, words = 0, ends = 0, one_end_known = 0;
    std::map<std::string, double> worst; // of each column, in parts of what is allowed
    for (std::size_t number = 0; number < rows.size(); ++number) {
        CAPTURE(number);
        const auto alone = run_case(sweep, cases, number, {});
        CHECK(rows[number].self.words == alone.self.words);
        for (std::size_t event = 0; event < sweep.events; ++event) {
            const auto& lane = rows[number].events[event];
            const auto& self = alone.events[event];
            const auto number_in = [&](const auto& row, const std::string& name) {
                return row.numbers[place_of(sweep.per_event, name)];
            };
            const auto word_in = [&](const auto& row, const std::string& name) {
                return row.words[place_of(sweep.per_event, name)];
            };
            const bool in_lane = std::isfinite(number_in(lane, "swing"));
            const bool in_self = std::isfinite(number_in(self, "swing"));
            ++ends;
            one_end_known += in_lane == in_self ? 0 : 1;
            const bool irregular = word_in(lane, "cycle_pattern") == "irregular"
                                   || word_in(self, "cycle_pattern") == "irregular";
            for (const auto& column : sweep.per_event) {
                const bool later = far_ahead(column.name);
                // A median swing and its time say little of irregular motion, and nothing is compared with what is not known.
                const bool no_one_size =
                    column.name == "cycle_peak_to_peak" || column.name == "cycle_frequency";
                if (column.words || (later && (!in_lane || !in_self || (irregular && no_one_size))))
                    continue;
                const std::string pattern =
                    later ? (irregular ? "irregular" : "regular") : word_in(self, "hunting_pattern");
                const double by = apart(column, number_in(lane, column.name), number_in(self, column.name),
                                        allowed_part(later, pattern));
                worst[column.name] = std::max(worst[column.name], by);
            }
            // Not the texts of broken limits: where hunting is irregular the smallest difference grows, and its span with it.
            for (const auto* word : {"what", "hunting", "stability"}) {
                const auto at = place_of(sweep.per_event, word);
                same_words += rows[number].events[event].words[at] == alone.events[event].words[at] ? 1 : 0;
                ++words;
            }
            const auto broken = place_of(sweep.per_event, "broken");
            CHECK(rows[number].events[event].words[broken].empty()
                  == alone.events[event].words[broken].empty());
        }
    }
    for (const auto& [name, by] : worst) {
        CAPTURE(name);
        CHECK(by < 1);
    }
    // Whether a slow change has settled when the time is over may hang on the last bit; here of 1 event in 24.
    CHECK(one_end_known * 20 <= ends);
    CHECK(same_words + 1 >= words); // a motion may lie on the edge between two kinds of hunting
}

/// Two lanes against as many as there are here, to the bit, of the first `count` cases.
void check_two_lanes(const Sweep& sweep, Cases& cases, const std::vector<sim::CaseRows>& rows,
                     std::size_t count) {
    const auto steps = place_of(sweep.per_case, "steps");
    const models::Station station(scenarios::build(sweep.base).parts);
    std::size_t next = 0;
    run_in_lanes(2, station,
                 {[&]() -> LaneRun {
                      if (next == count)
                          return {};
                      auto scenario = scenarios::read_scenario(sweep.study.scenario, cases.overrides(next));
                      auto installation = scenarios::build(scenario);
                      const auto signals = judged_signals(scenario);
                      return {next++, std::make_unique<StartedRun>(std::move(scenario),
                                                                   std::move(installation), signals)};
                  },
                  [&](LaneRun lane, const sim::Counts& counts) {
                      const auto& row = rows[lane.number];
                      const auto outcome = std::move(*lane.run).judged(counts, {});
                      CHECK(row.self.numbers[steps] == static_cast<double>(counts.steps));
                      for (std::size_t event = 0; event < outcome.verdict.size(); ++event)
                          CHECK(row.events[event].numbers[place_of(sweep.per_event, "highest")]
                                == outcome.verdict[event].highest);
                  },
                  [](LaneRun) { FAIL("stuck"); }, [] { return true; }});
}

} // namespace

TEST_CASE(
    "cases run in lanes have the metrics of the same cases alone and the same bits in any number of lanes"
    * doctest::test_suite("long")) {
    const OwnFolder folder;
    const auto path = folder / "lanes.toml";
    std::ofstream(path) << night << R"(plan = "sobol"
cases = 12
seed = 3
[[vary]]
key = "main.opening_control"
from = "0.25 turns"
to = "6 turns"
[[vary]]
key = "main.set_pressure"
from = "4.2 bar"
to = "4.6 bar"
[[vary]]
key = "main.air_in_cover"
from = "0 mL"
to = "60 mL"
[[vary]]
key = "run.duration"
list = ["12 s", "20 s"]
)";
    const auto sweep = read_sweep(path);
    REQUIRE(sweep.lanes);
    Cases cases(sweep.study);
    const auto rows = rows_of_all(sweep, cases);
    check_against_alone(sweep, cases, rows);
    check_two_lanes(sweep, cases, rows, 4);
}

TEST_CASE("lanes with hardware and pipes and water of their own have the metrics of the same cases alone"
          * doctest::test_suite("long")) {
    const OwnFolder folder;
    const auto path = folder / "hardware.toml";
    std::ofstream(path) << night << R"(plan = "sobol"
cases = 12
seed = 5
[[vary]]
key = "main.hardware"
list = ["pilot-operated/DN65", "pilot-operated/DN80"]
[[vary]]
key = "main.override.pilot.spring_rate"
from = "60 N/mm"
to = "90 N/mm"
[[vary]]
key = "main.override.main_valve.stem_friction"
list = ["0 N", "20 N"]
[[vary]]
key = "main.override.speed_control.exponent"
from = "1.1"
to = "1.5"
[[vary]]
key = "supply.pressure"
from = "7 bar"
to = "8 bar"
[[vary]]
key = "supply.pipe.length"
from = "20 m"
to = "30 m"
[[vary]]
key = "downstream.pipe.bore" # less than 75 mm has a cell less
from = "78 mm"
to = "90 mm"
[[vary]]
key = "water.temperature"
from = "5 degC"
to = "25 degC"
[[vary]]
key = "run.tolerance"
list = ["1e-5", "2e-5"]
[[vary]]
key = "run.duration"
list = ["5.5 s", "6 s"]
)";
    const auto sweep = read_sweep(path);
    REQUIRE(sweep.lanes);
    Cases cases(sweep.study);
    const auto rows = rows_of_all(sweep, cases);
    check_against_alone(sweep, cases, rows);
    check_two_lanes(sweep, cases, rows, 6);
}

TEST_CASE("a key that changes the number of states keeps a sweep out of lanes and a spring does not") {
    const OwnFolder folder;
    const auto path = folder / "study.toml";
    const auto in_lanes = [&](const std::string& key, const std::string& list) {
        std::ofstream(path) << night << "[[vary]]\nkey = \"" << key << "\"\nlist = [" << list << "]\n";
        return read_sweep(path).lanes;
    };
    CHECK(in_lanes("main.override.main_valve.spring_rate", R"("2 N/mm", "3 N/mm")"));
    CHECK(!in_lanes("supply.pipe.cells", R"("1", "8")"));
}
