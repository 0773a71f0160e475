/// Which cases keep their signals, and how these are thinned; the table of surges of each case.
#include "tools/studies/kept_cases.h"
#include "scenarios/read_scenario.h"
#include "sim/cases_file.h"
#include "sim/results_file.h"
#include "tests/places.h"
#include "tests/tools/small_sweep.h"
#include "tools/studies/simulate.h"
#include "tools/studies/sweep_case.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <string>
#include <variant>
#include <vector>

using namespace needleturn;
using namespace needleturn::tests;
using scenarios::Keep;

namespace {

const std::vector<sim::CasesColumn> per_case{
    {"failure", "", "", true}, {"passed", "1", ""}, {"own", "m", ""}};
const std::vector<sim::CasesColumn> per_event{
    {"broken", "", "", true}, {"undecided", "", "", true}, {"swing", "Pa", ""}, {"highest", "Pa", ""}};

struct Told {
    const char* failure;
    double passed, own;
    const char* broken;
    double swing, highest;
};

constexpr double nothing = std::numeric_limits<double>::quiet_NaN();

/// Six cases of two events each, of which the first is always at rest.
const std::vector<Told> told{{"", 1, 1, "", 0, 4e5},
                             {"", 0, 5, "hunts 1 bar", 1e5, 6e5},
                             {"", 0, nothing, "", 0, 5e5}, // undecided
                             {"stopped", 0, 2, "", nothing, nothing},
                             {"", 0, 4, "hunts 2 bar", 2e5, 5.5e5},
                             {"", 1, 3, "", 1e3, 4.1e5}}; // hunts, within the limit

std::vector<std::size_t> chosen(const Keep& keep, std::size_t* left_out = nullptr) {
    KeptCases kept(keep, per_case, per_event);
    for (std::size_t i = 0; i < told.size(); ++i) {
        const auto& [failure, passed, own, broken, swing, highest] = told[i];
        kept.see(i,
                 {{{passed, own}, {failure}}, {{{0, 4e5}, {"", ""}}, {{swing, highest}, {broken, ""}}}, {}});
    }
    if (left_out != nullptr)
        *left_out = kept.left_out();
    return kept.chosen();
}

Keep of_kinds(const std::vector<Keep::When>& when) {
    Keep keep;
    keep.when = when;
    return keep;
}

Keep worst(const std::vector<Keep::Worst>& worst) {
    Keep keep;
    keep.worst = worst;
    return keep;
}

std::string read_error(const std::string& text) {
    const OwnFolder folder;
    const auto path = folder / "study.toml";
    std::ofstream(path) << "scenario = \"" << tests::source_folder() << "/scenarios/nursery-night.toml\"\n"
                        << text << "\n[[vary]]\nkey = \"main.opening_control\"\nlist = [\"1 turn\"]\n";
    try {
        read_sweep(path);
    } catch (const scenarios::ScenarioError& error) {
        return error.what();
    }
    return {};
}

using Numbers = std::vector<std::size_t>;

} // namespace

TEST_CASE("cases are kept by what came of them and by how bad they are") {
    CHECK(chosen(of_kinds({Keep::When::hunts})) == Numbers{1, 4, 5});
    CHECK(chosen(of_kinds({Keep::When::breaks})) == Numbers{1, 4});
    CHECK(chosen(of_kinds({Keep::When::undecided})) == Numbers{2});
    CHECK(chosen(of_kinds({Keep::When::ends_early})) == Numbers{3});
    CHECK(chosen(of_kinds({Keep::When::ends_early, Keep::When::undecided})) == Numbers{2, 3});
    CHECK(chosen(worst({{"highest", 2}})) == Numbers{1, 4});
    CHECK(chosen(worst({{"own", 2, true}})) == Numbers{0, 3}); // what has no value is no extreme
    auto both = worst({{"swing", 1}});
    both.cases = {5};
    CHECK(chosen(both) == Numbers{4, 5});
    CHECK(chosen({}).empty());
    CHECK_THROWS_AS(chosen(worst({{"broken", 2}})), std::out_of_range);
}

TEST_CASE("no more cases are kept than the study allows, and the rest is counted") {
    std::size_t left_out = 0;
    auto keep = of_kinds({Keep::When::hunts});
    keep.most = 3;
    CHECK(chosen(keep, &left_out) == Numbers{1, 4, 5});
    CHECK(left_out == 0);
    keep.cases = {0};
    keep.most = 2;
    CHECK(chosen(keep, &left_out) == Numbers{0, 1});
    CHECK(left_out == 2);
    keep.cases = {0, 2, 3};
    CHECK(chosen(keep, &left_out) == Numbers{0, 2, 3}); // what is named is kept
    CHECK(left_out == 3);
}

TEST_CASE("kept signals are those that are named, thinned by samples or without losing an extreme") {
    sim::Recording recording;
    recording.quantities = {
        {"main.lift", "m", 1, ""}, {"main.flow", "m3 s-1", 1, ""}, {"outlet.pressure", "Pa", 1, ""}};
    recording.values.resize(3);
    for (int i = 0; i <= 1000; ++i) {
        recording.time.push_back(i * 1e-3);
        recording.values[0].push_back(i == 501 ? 7 : 0);
        recording.values[1].push_back(i);
        recording.values[2].push_back(i);
    }
    const auto all = kept_of({}, recording, 4);
    CHECK(all.quantities.size() == 3);
    CHECK(all.time.size() == 251);
    CHECK(all.time.back() == doctest::Approx(1));
    Keep keep;
    keep.signals = {"main.*"};
    keep.interval = 0.01;
    const auto some = kept_of(keep, recording, 1);
    REQUIRE(some.quantities.size() == 2);
    CHECK(some.quantities[1].name == "main.flow");
    CHECK(some.time.size() == 101);
    CHECK(some.time[37] == doctest::Approx(0.37));
    CHECK(some.values[1][37] == 370);
    CHECK(std::ranges::max(some.values[0]) == 0); // the peak lies between two kept samples
    keep.thin = Keep::Thin::extremes;
    const auto extremes = kept_of(keep, recording, 1);
    CHECK(extremes.time[1] - extremes.time[0] == doctest::Approx(0.01));
    CHECK(std::ranges::max(extremes.values[0]) == 7);
    const auto peak = std::ranges::max_element(extremes.values[0]) - extremes.values[0].begin();
    CHECK(std::abs(extremes.time[static_cast<std::size_t>(peak)] - 0.501) <= 0.02); // two intervals
}

TEST_CASE("a study says what it keeps, and what is wrong with that in one line") {
    CHECK(read_error("keep = { cases = [0], when = [\"hunts\", \"is undecided\"], signals = [\"main.*\"] }")
              .empty());
    const auto says = [](const std::string& text, const std::string& part) {
        CAPTURE(text);
        const auto said = read_error(text);
        CAPTURE(said);
        CHECK(said.find(part) != std::string::npos);
        CHECK(said.find('\n') == std::string::npos);
    };
    says("keep = { cases = [9] }", "0 to 0");
    says("keep = { when = [\"hunt\"] }", "hunt is none of: hunts, breaks a limit");
    says("keep = { worst = [{ metric = \"swing\" }] }", "cases: missing");
    says("keep = { worst = [{ metric = \"swng\", cases = 2 }] }", "no number is called swng");
    says("keep = { worst = [{ metric = \"broken\", cases = 2 }] }", "no number is called broken");
    says("keep = { signals = [\"mian.*\"] }", "no signal is called mian.*");
    says("keep = { interval = \"1.5 ms\" }", "whole multiple of the 0.001 s");
    says("keep = { interval = \"0 s\" }", "out of range");
    says("keep = { thin = \"sample\" }", "nearest is samples");
    says("surge = 1", "write true or false");
    says("metrics.highest = \"max(main.lift)\"", "a column has this name already");
    says("metrics.event = \"max(main.lift)\"", "name of a dimension");
    says("metrics.\"a b\" = \"max(main.lift)\"", "a name is letters");
    says("metrics.own = 3", "a table of keys is wanted");
    says("metrics.own = { formula = \"max(main.lift)\", event = 3 }", "there is no event 3; a case has 2");
    says("metrics.own = { formula = \"max(main.lift)\", event = 2, over = \"run\" }",
         "means nothing over the run");
    says("metrics.own = { formula = \"max(main.lift)\", from = \"2 s\", to = \"1 s\" }",
         "must be later than from");
    says("metrics.own = \"max(main.lfit)\"", "study.toml:2: metrics.own = \"max(main.lfit)\": column 5");
}

TEST_CASE("a sweep keeps the signals of its worst case and has the surges of a run, in lanes and alone") {
    const OwnFolder folder;
    const auto path = folder / "study.toml";
    std::ofstream(path) << "scenario = \"" << tests::source_folder() << R"(/scenarios/nursery-stop.toml"
surge = true
keep = { worst = [{ metric = "highest", cases = 1 }], signals = ["outlet.pressure"], interval = "10 ms" }
[[vary]]
key = "main.closing_control"
list = ["1 turn", "4 turns"]
[[vary]]
key = "run.duration"
list = ["9 s"]
)";
    const auto sweep = read_sweep(path);
    REQUIRE(sweep.lanes);
    const auto out = folder / "out.h5";
    REQUIRE(run_program({"sweep", path.string(), "-o", out.string()}) == 0);
    const auto file = sim::read_cases(out);
    REQUIRE(file.points == sweep.points);
    REQUIRE(std::ranges::count(file.points, "outlet") == 1);
    const auto numbers = [](const sim::Table& table, const std::string& name) {
        return std::get<std::vector<double>>(std::ranges::find(table, name, &sim::Column::name)->rows);
    };
    Cases cases(sweep.study);
    std::vector<double> highest_of_case;
    for (std::size_t number = 0; number < 2; ++number) {
        CAPTURE(number);
        const auto outcome = simulate(sweep.file.read(cases.overrides(number)));
        const auto alone = run_case(sweep, cases, number, {});
        REQUIRE(outcome.surges.size() == sweep.events);
        double most = 0;
        for (std::size_t event = 0; event < sweep.events; ++event) {
            most = std::max(most, outcome.verdict[event].highest);
            for (const auto& point : outcome.surges[event].points) {
                CAPTURE(point.point);
                const auto at = static_cast<std::size_t>(std::ranges::find(sweep.points, point.point)
                                                         - sweep.points.begin());
                const auto row = event * sweep.points.size() + at;
                const auto same = [&](const char* name, double value) {
                    // Alone the same bits; in lanes to what rounding makes of 9 s of a valve (tests/tools/sweep.cpp).
                    CHECK(alone.points[row].numbers[place_of(sweep.per_point, name)] == value);
                    CHECK(numbers(file.per_point, name)[(number * sweep.events) * sweep.points.size() + row]
                          == doctest::Approx(value).epsilon(1e-3));
                };
                same("surge_highest", point.highest);
                same("surge_lowest", point.lowest);
            }
        }
        highest_of_case.push_back(most);
    }
    // Put together from two parts it is the same, kept signals and surges included.
    const auto joined = folder / "joined.h5";
    for (const auto* part : {"1/2", "2/2"})
        REQUIRE(run_program({"sweep", path.string(), "-o", joined.string(), "--shard", part}) == 0);
    REQUIRE(run_program({"join", path.string(), "-o", joined.string(), "--parts", "2"}) == 0);
    CHECK(bytes_in(joined) == bytes_in(out));

    const auto worst = highest_of_case[0] > highest_of_case[1] ? 0 : 1;
    const auto kept = sim::read_recording(out, "case_" + std::to_string(worst));
    REQUIRE(kept.quantities.size() == 1);
    CHECK(kept.time.size() == 901);
    CHECK(kept.time[1] == doctest::Approx(0.01));
    CHECK_THROWS(sim::read_recording(out, "case_" + std::to_string(1 - worst)));
}
