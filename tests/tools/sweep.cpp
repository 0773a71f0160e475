/// Sweeps through the program as a user runs it: interruption, shards, threads, failing cases, wrong studies.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/tools/small_sweep.h"
#include "tools/studies/sweep_case.h"
#include "tools/studies/verdict.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <csignal>
#include <cstdio>
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

bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

} // namespace

TEST_CASE("a sweep killed at random times and resumed leaves the file of an uninterrupted one"
          * doctest::test_suite("long")) {
    const OwnFolder folder;
    const auto alone = write_small_study(folder), in_lanes = write_small_lanes_study(folder);
    REQUIRE(!read_sweep(alone).lanes);
    REQUIRE(read_sweep(in_lanes).lanes);
    for (const auto& study : {alone, in_lanes}) {
        CAPTURE(study);
        const auto* threads = study == alone ? "3" : "1"; // so that there is more to do than is in flight
        const auto whole = folder / "whole.h5", killed = folder / "killed.h5";
        // The clock only spreads the kills over the sweep: what is checked holds wherever they fall.
        const auto began = std::chrono::steady_clock::now();
        REQUIRE(run_program({"sweep", study.string(), "-o", whole.string(), "-j", threads}) == 0);
        const double length = std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();

        const auto seed = std::random_device{}();
        std::printf("seed of the kills: %u\n", seed);
        std::mt19937 random(seed);
        int finished = 0;
        const int wanted =
            std::getenv("NEEDLETURN_KILLS") != nullptr ? std::atoi(std::getenv("NEEDLETURN_KILLS")) : 10;
        for (int kills = 0; kills < wanted; ++kills) {
            const pid_t child =
                start_program({"sweep", study.string(), "-o", killed.string(), "-j", threads});
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

TEST_CASE("an interrupted sweep says so and four shards joined are the single run bit for bit"
          * doctest::test_suite("long")) {
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

TEST_CASE("a journal or file of another study is refused and not mixed in" * doctest::test_suite("long")) {
    const OwnFolder folder;
    const auto study = write_small_study(folder);
    const auto file = (folder / "a.h5").string();
    REQUIRE(run_program({"sweep", study.string(), "-o", file}) == 0);
    const auto before = bytes_in(file);
    std::ofstream(study, std::ios::app) << "# another text\n";
    CHECK(run_program({"sweep", study.string(), "-o", file}) == 2);
    CHECK(bytes_in(file) == before);
}

TEST_CASE("a scenario or hardware file that is edited while its sweep runs is not mixed in"
          * doctest::test_suite("long")) {
    const OwnFolder folder;
    const std::filesystem::path scenarios = tests::source_folder() + "/scenarios";
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
    CHECK(says(read_error(study_of_night), "vary"));
    CHECK(says(read_error("scenari = \"x\"\n"), "nearest is scenario"));
    CHECK(says(read_error(study_of_night + vary), "either list, or from and to"));
    CHECK(says(read_error(study_of_night + vary + "list = [\"1 turn\"]\nfrom = \"1 turn\"\n"),
               "either list, or from and to"));
    CHECK(says(read_error(study_of_night + vary + "from = \"1 turn\"\nto = \"2 bar\"\npoints = 3\n"),
               "of one kind"));
    CHECK(says(read_error(study_of_night + vary + "from = \"2 turns\"\nto = \"1 turn\"\npoints = 3\n"),
               "greater than from"));
    CHECK(says(read_error(study_of_night + vary + "from = \"1 turn\"\nto = \"2 turns\"\n"), "points"));
    CHECK(says(read_error(study_of_night + vary + "from = \"1 turn\"\nto = \"60 turns\"\npoints = 3\n"),
               "out of range"));
    CHECK(says(read_error(study_of_night + "plan = \"sobol\"\n" + vary + "list = [\"1 turn\"]\n"), "cases"));
    CHECK(says(read_error(study_of_night + "plan = \"sobel\"\n" + vary + "list = [\"1 turn\"]\n"),
               "nearest is sobol"));
    CHECK(says(read_error(study_of_night + vary
                          + "from = \"0 turns\"\nto = \"2 turns\"\npoints = 3\nspacing = \"log\"\n"),
               "begins above 0"));
    CHECK(says(read_error(study_of_night + "keep = { cases = [9] }\n" + vary + "list = [\"1 turn\"]\n"),
               "0 to 0"));
}
