/// Demands from a log and from draws: against straight lines drawn by hand, and against the closed form of the law of draws.
#include "scenarios/demand_course.h"

#include "scenarios/keys.h"
#include "scenarios/written.h"
#include "tests/own_folder.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <string>
#include <utility>
#include <vector>

namespace {

using namespace needleturn::scenarios;
using namespace needleturn::tests;

constexpr double litre = 1e-3;

/// A folder with a scenario whose demand is `log`, and with day.csv beside it; gone at the end.
class Logged {
  public:
    explicit Logged(const std::string& csv, const std::string& demand = R"(log = { file = "day.csv" })") {
        std::ofstream(folder_ / "day.csv") << csv;
        std::ofstream(folder_ / "house.toml") << R"(title = "House"
[supply]
pressure = "8 bar"
pipe = { length = "20 m", kind = "steel/DN80" }
[[stage]]
hardware = "pilot-operated/DN65"
set_pressure = "4.5 bar"
opening_control = "1 turn"
closing_control = "6 turns"
[downstream]
pipe = { length = "10 m", kind = "steel/DN80" }
[run]
duration = "60 s"
[demand]
)" << demand << "\n";
    }

    Scenario read(const std::vector<Override>& changes = {}) const {
        return read_scenario(folder_ / "house.toml", changes, hardware_folders);
    }
    std::string error(const std::vector<Override>& changes = {}) const {
        return error_of([&] { read(changes); });
    }

  private:
    OwnFolder folder_;
};

std::string error_of_rows(const std::string& csv) { return Logged(csv).error(); }

const std::string three_rows = "time [s];flow [L/s]\n0;1,0\n10;3,0\n30;2,0\n";

/// A text in the middle of another.
bool says(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }

} // namespace

TEST_CASE("a logged demand goes in straight lines from row to row, and stays where the rows end") {
    const auto demand = Logged(three_rows).read().demand;
    CHECK(demand.start == relative(1 * litre, 1e-15));
    for (const auto& [time, flow] : std::vector<std::pair<double, double>>{
             {0, 1}, {2.5, 1.5}, {10, 3}, {20, 2.5}, {30, 2}, {59, 2}}) // by hand
        CHECK(drawn_at(demand, time) == relative(flow * litre, 1e-12));
    CHECK(demand.steps.size() == 2);
    CHECK(demand.follows_course());
}

TEST_CASE("a log is read as every trace is: comma, units, columns, dates, a reading that is missing") {
    const auto csv = "time,garden flow [L/s],rooms flow (m3/h)\n"
                     "2026-03-01T06:00:00,9,3.6\n2026-03-01T06:00:10,9,-\n2026-03-01T06:00:20,9,7.2\n"
                     "2026-03-01T06:01:20,9,0\n";
    const Logged logged(csv, R"(log = { file = "day.csv", column = "rooms flow" })");
    const auto demand = logged.read().demand;
    // 3.6 m3/h are 1 L/s; the line goes on over the reading that is missing.
    for (const auto& [time, flow] :
         std::vector<std::pair<double, double>>{{0, 1}, {10, 1.5}, {20, 2}, {50, 1}})
        CHECK(drawn_at(demand, time) == relative(flow * litre, 1e-12));
    CHECK(drawn_at(logged.read({{"demand.log.from=06:00:20"}}).demand, 0) == relative(2 * litre, 1e-12));
    CHECK(drawn_at(logged.read({{"demand.log.from=2026-03-01T06:00:50"}}).demand, 0)
          == relative(1 * litre, 1e-12));
    CHECK(drawn_at(logged.read({{"demand.log.column=garden flow"}, {"demand.log.from=06:00:10"}}).demand, 0)
          == relative(9 * litre, 1e-12));
    CHECK(drawn_at(Logged(three_rows).read({{"demand.log.from=20 s"}}).demand, 5)
          == relative(2.25 * litre, 1e-12));
}

TEST_CASE("what is wrong with a log is said in one line with its file and line") {
    CHECK(says(error_of_rows("\n"), "day.csv: is empty"));
    CHECK(says(error_of_rows("time [s];flow [L/s]\n"), "day.csv: no rows"));
    CHECK(says(error_of_rows("time [s];flow [L/s]\n0;1\n"), "1 readings; two or more are wanted"));
    CHECK(says(error_of_rows("time [s];flow [L/s]\n0;1\n20;2\n10;3\n"), "day.csv:4: its time is not later"));
    CHECK(says(error_of_rows("time [s];flow [L/s]\n0;1\n20;2\n20;3\n"), "day.csv:4: its time is not later"));
    CHECK(says(error_of_rows("time [s];flow [L/s]\n0;1\n20;-2\n"),
               "day.csv:3: flow: -2.00 L/s is out of range"));
    CHECK(says(error_of_rows("time [s];flow [L/s]\n0;1\n20;much\n"), "day.csv:3: flow = \"much\": a number"));
    CHECK(says(error_of_rows("time [s];flow [bar]\n0;1\n20;2\n"), "day.csv: column flow: "));
    CHECK(says(error_of_rows("time [s];flow\n0;1\n20;2\n"), "its unit is missing"));
    CHECK(says(error_of_rows("time [s];pressure [bar]\n0;1\n20;2\n"), "no column is called flow"));
    const auto late = error_of_rows("time [s];flow [L/s]\n0;1\n20;2\n");
    CHECK(late.empty());
    const Logged logged(three_rows);
    CHECK(says(logged.error({{"demand.log.from=2 h"}}), "lies within the run"));
    CHECK(says(logged.error({{"demand.log.from=06:00"}}), "from = \"06:00\""));
    CHECK(says(logged.error({{"demand.log.column=P9"}}), "column = \"P9\": no such column in "));
    CHECK(says(logged.error({{"demand.log.file=night.csv"}}), "no such file"));
    CHECK(says(logged.error({{"demand.start=1 L/s"}}), "demand.start"));
    CHECK(says(logged.error({{"demand.log.sheet=2"}}), "unknown key"));
    std::string many = "time [s];flow [L/s]\n";
    for (int i = 0; i < 12'000; ++i)
        many += fmt::format("{};{}\n", 0.004 * i, i % 2);
    CHECK(says(error_of_rows(many), "12000 rows") == false); // the first lies at the start, not within
    CHECK(says(error_of_rows(many), "11999 rows of day.csv lie within the run; 10000 at the most"));
    for (const auto& text : {error_of_rows(many), logged.error({{"demand.log.from=2 h"}})})
        CHECK(text.find('\n') == std::string::npos);
}

TEST_CASE("rows in the scenario itself are held to the same") {
    const auto of = [](const char* rows) {
        return error_of_text(fmt::format(R"(title = "House"
[supply]
pressure = "8 bar"
pipe = {{ length = "20 m", kind = "steel/DN80" }}
[[stage]]
hardware = "pilot-operated/DN65"
set_pressure = "4.5 bar"
opening_control = "1 turn"
closing_control = "6 turns"
[downstream]
pipe = {{ length = "10 m", kind = "steel/DN80" }}
[demand]
log = {{ {} }}
[run]
duration = "60 s"
)",
                                         rows));
    };
    CHECK(of(R"(seconds = [0, 10], flows = [1, 2], unit = "L/s")").empty());
    CHECK(says(of(R"(seconds = [0, 0], flows = [1, 2], unit = "L/s")"), "must rise; number 2 does not"));
    CHECK(says(of(R"(seconds = [0, 10], flows = [1, -2], unit = "L/s")"), "number 2 is below 0"));
    CHECK(says(of(R"(seconds = [0, 10], flows = [1], unit = "L/s")"), "must be as many numbers as seconds"));
    CHECK(says(of(R"(seconds = [0], flows = [1], unit = "L/s")"), "two or more are wanted"));
    CHECK(says(of(R"(seconds = [0, 10], flows = [1, 2], unit = "bar")"), "demand.log.unit"));
    CHECK(says(of(R"(seconds = [0, 10], flows = [1, 2])"), "demand.log.unit: missing"));
    CHECK(says(of(R"(seconds = [70, 80], flows = [1, 2], unit = "L/s")"), "lies within the run"));
    // No folder is known where a text alone is read.
    CHECK(says(of(R"(file = "day.csv")"), "a file cannot be named here; write its rows"));
    CHECK(says(of(R"(file = "day.csv", seconds = [0, 10])"), "the rows are in the file"));
    CHECK(says(of(""), "write file = "));
}

TEST_CASE("a resolved log needs no other file and gives the same scenario; other flows laid over it are "
          "written as such") {
    const Logged logged("time [s];flow [gpm]\n0;0.7\n7.3;33.3\n61;12.9\n");
    auto scenario = logged.read();
    CHECK(parse_scenario(resolved(scenario), "resolved") == scenario);
    scenario.units = UnitSystem::us;
    const auto text = written(scenario, hardware_folders);
    CHECK(says(text, "log.flows = [0.7, 33.3, 12.9]"));
    CHECK(says(text, "log.unit = \"gpm\""));
    CHECK(parse_scenario(text, "written", {}, hardware_folders) == scenario);
    scenario.demand.steps.clear();
    CHECK(!says(resolved(scenario), "log."));
    CHECK(says(resolved(scenario), "\nstart = "));
}

TEST_CASE("a draw has the volume of its rectangle, and opens and shuts by hand") {
    Demand demand;
    demand.draws = {{.taps = 1, .flow = 0.2 * litre, .duration = 30, .per_hour = 20, .within = 2, .seed = 1}};
    lay_course(demand, 3600, 0);
    REQUIRE(demand.follows_course());
    double volume = 0, at = 0, flow = demand.start, highest = 0;
    for (const auto& step : demand.steps) {
        volume += flow * (step.at - at) + (flow + step.to) / 2 * step.over;
        at = step.at + step.over;
        flow = step.to;
        highest = std::max(highest, flow);
    }
    CHECK(flow >= 0);
    CHECK(volume / (0.2 * litre * 30)
          == relative(std::round(volume / (0.2 * litre * 30)), 0.03)); // one is cut at an end
    CHECK(highest >= 0.2 * litre);
}

TEST_CASE("draws keep to the closed form: busy taps are Poisson with the mean rate x duration") {
    // M/G/infinity, Buchberger and Wu 1995 (demand_course.h): mean flow = rate x volume of a draw, variance = rate x duration x
    // flow^2, none open for the share exp(-rate x duration) of the time.
    constexpr double flow = 0.1 * litre, lasts = 40, span = 1.2e5;
    constexpr double busy = 20 * 3 / 3600.0 * lasts;
    double mean = 0, square = 0, none = 0;
    constexpr int seeds = 8;
    for (std::size_t seed = 1; seed <= seeds; ++seed) {
        Demand demand;
        demand.draws = {
            {.taps = 20, .flow = flow, .duration = lasts, .per_hour = 3, .within = 0, .seed = seed}};
        lay_course(demand, span, 0);
        double now = demand.start, at = 0;
        const auto hold = [&](double until) {
            mean += now / flow * (until - at);
            square += now / flow * now / flow * (until - at);
            none += now == 0 ? until - at : 0;
            at = until;
        };
        for (const auto& step : demand.steps) { // of a millisecond each
            hold(step.at);
            now = step.to;
        }
        hold(span);
    }
    mean /= seeds * span;
    square /= seeds * span;
    none /= seeds * span;
    // Four standard errors: that of the mean is sqrt(busy x duration / time), of the others no larger than twice that.
    const double error = std::sqrt(busy * lasts / (seeds * span));
    CHECK(std::abs(mean - busy) < 4 * error);
    CHECK(std::abs(square - mean * mean - busy) < 8 * error);
    CHECK(std::abs(none - std::exp(-busy)) < 8 * error);
}

TEST_CASE("the same seed draws the same, another seed or another demand otherwise") {
    const auto drawn = [](std::size_t seed, std::size_t place) {
        Demand demand;
        demand.draws = {{.taps = 20, .flow = litre, .duration = 40, .per_hour = 3, .seed = seed}};
        lay_course(demand, 600, place);
        return demand.steps;
    };
    CHECK(drawn(3, 0) == drawn(3, 0));
    CHECK(drawn(3, 0) != drawn(4, 0));
    CHECK(drawn(3, 0) != drawn(3, 1));
}

TEST_CASE("draws are read, refused and written back") {
    const std::string draws = R"(draws = [{ taps = 4, flow = "0.1 L/s", duration = "20 s", per_hour = 30 }])";
    const Logged house(three_rows, draws);
    const auto scenario = house.read();
    CHECK(scenario.demand.follows_course());
    CHECK(parse_scenario(resolved(scenario), "resolved") == scenario);
    CHECK(house.read({{"demand.draws.seed=2"}}).demand.steps != scenario.demand.steps);
    CHECK(says(house.error({{"demand.draws.per_hour=200"}}), "asks for more than a tap has time for"));
    CHECK(says(house.error({{"demand.draws.taps=10000"}, {"run.duration=1000 s"}}), "makes too many draws"));
    CHECK(says(house.error({{"demand.draws.within=30 s"}}), "no longer than the draw"));
    CHECK(says(house.error({{"demand.start=1 L/s"}}), "demand.start"));
    CHECK(says(Logged(three_rows, draws + "\nlog = { file = \"day.csv\" }").error(),
               "means nothing beside a log"));
}

TEST_CASE(
    "the shipped house, with a log on a branch and draws at the far end, is written back as what it is") {
    const auto scenario = read_scenario(source / "scenarios/alderwick-morning.toml", {}, hardware_folders);
    CHECK(scenario.demand.follows_course());
    const auto& rooms = scenario.downstream.branches.front().demand;
    CHECK(rooms.follows_course());
    // The rows of 06:24:00 and 06:25:00, in m3/h.
    CHECK(drawn_at(rooms, 0) == relative(9.9 / 3600, 1e-12));
    CHECK(drawn_at(rooms, 60) == relative(11.2 / 3600, 1e-12));
    CHECK(parse_scenario(resolved(scenario), "resolved") == scenario);
    CHECK(parse_scenario(written(scenario, hardware_folders), "written", {}, hardware_folders) == scenario);
}
