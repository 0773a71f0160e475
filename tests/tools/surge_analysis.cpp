/// What is told of each event's surge, held against what the theory of waves says of a line that a test can reckon.
#include "tools/studies/surge_analysis.h"

#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/commands/surge_text.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

using namespace needleturn;
using tests::relative;

namespace {

constexpr double bar = 1e5;

/// A station in a line, from the text of its sections supply, downstream and demand.
scenarios::Scenario line(const std::string& supply, const std::string& downstream, const std::string& demand,
                         const std::string& duration) {
    const std::vector<std::filesystem::path> hardware{std::filesystem::path(tests::source_folder())
                                                      / "scenarios/hardware"};
    return scenarios::parse_scenario(
        fmt::format("title = \"line\"\n[supply]\npressure = \"7.5 bar\"\n{}\n[[stage]]\nname = \"main\"\n"
                    "hardware = \"pilot-operated/DN65\"\nset_pressure = \"4.5 bar\"\n"
                    "opening_control = \"1/2 turn\"\nclosing_control = \"6 turns\"\n"
                    "[downstream]\n{}\n[demand]\n{}\n[run]\nduration = \"{}\"\n",
                    supply, downstream, demand, duration),
        "line.toml", {}, hardware);
}

const std::string short_supply = R"(pipe = { length = "30 m", kind = "steel/DN80" })";

/// A draw from 300 m of steel pipe that stops at 1 s.
Outcome stop(const std::string& over) {
    return simulate(line(short_supply, R"(pipe = { length = "300 m", kind = "steel/DN80", cells = 64 })",
                         fmt::format(R"(kind = "draw"
start = "3 L/s"
steps = [{{ at = "1 s", to = "0 L/s", over = "{}" }}])",
                                     over),
                         "2 s"));
}

const PointSurge& at(const SurgeVerdict& surge, const std::string& point) {
    return *std::ranges::find(surge.points, point, &PointSurge::point);
}

/// rho a and a of steel/DN80 in this water, from the scheme's own parameters.
models::Pipe steel() {
    const auto installation = scenarios::build(line(short_supply, short_supply, R"(start = "1 L/s")", "1 s"));
    return installation.parts.pipes.front().pipe;
}

} // namespace

TEST_CASE("a sudden stop raises the pressure by the Joukowsky value told where it is made and at once"
          * doctest::test_suite("long")) {
    for (const auto* over : {"0 s", "0.05 s"}) { // a jump and a fast ramp
        CAPTURE(over);
        const auto outcome = stop(over);
        const auto& surge = outcome.surges.at(1);
        const auto pipe = steel();
        CHECK(surge.start.pipe == "downstream_pipe");
        CHECK(surge.start.velocity_change == relative(-3e-3 / pipe.area(), 1e-6));
        CHECK(surge.start.at == "far_end");
        CHECK(surge.start.sudden_change == surge.start.joukowsky); // up: nothing bounds it
        CHECK(surge.start.joukowsky == relative(pipe.density * pipe.wave_speed * 3e-3 / pipe.area(), 1e-6));
        CHECK(surge.start.round_trip == relative(600 / pipe.wave_speed, 1e-9));
        CHECK(surge.start.fast());
        const auto& end = at(surge, "far_end");
        // Until shortly before the wave is back. Line packing adds some of the friction of 300 m.
        const auto& pressure = outcome.record.recording["far_end.pressure"]; // sampled at 1 kHz
        const auto back = static_cast<std::ptrdiff_t>(1000 * (1 + 0.95 * surge.start.round_trip));
        const double rise = *std::max_element(pressure.begin() + 1000, pressure.begin() + back) - end.before;
        CHECK(rise > 0.98 * surge.start.joukowsky);
        CHECK(rise < 1.12 * surge.start.joukowsky);
        CHECK(end.highest >= rise + end.before); // later the station adds its own
        CHECK(end.arrival < 0.05);
    }
}

TEST_CASE("a cock that is shut at once stops the water as fast in 8 cells as in 64 and Joukowsky's rise is "
          "the run's"
          * doctest::test_suite("long")) {
    // A cock that takes all the flow of the only stage: by mass the water at the inlet loses all of its 3 L/s.
    for (const auto cock : {scenarios::Control::cock, scenarios::Control::outlet_cock})
        for (const int cells : {8, 64}) {
            CAPTURE(cells);
            CAPTURE(static_cast<int>(cock));
            auto shut =
                line(fmt::format(R"(pipe = {{ length = "30 m", kind = "steel/DN80", cells = {} }})", cells),
                     R"(pipe = { length = "30 m", kind = "steel/DN80" })", R"(start = "3 L/s")", "2 s");
            shut.stages[0].cock = shut.stages[0].outlet_cock = 1;
            shut.adjustments = {{.at = 1, .what = cock, .to = 0, .over = 0}};
            const auto outcome = simulate(shut);
            CHECK(outcome.fastest_change == 0); // a cock is what the grid is made for too
            const auto& surge = outcome.surges.at(1);
            const auto& flow = outcome.record.recording["supply_pipe.flow_1"];
            CHECK(surge.start.pipe == "supply_pipe");
            // The front is rounded by few cells, and friction packs the line: a few hundredths.
            CHECK(surge.start.velocity_change == relative(-flow[1000] / steel().area(), 0.05));
            CHECK(surge.start.fast());
            CHECK(surge.start.duration <= 0.012); // s; the body of the valve fills in a few ms
            const auto& pressure = outcome.record.recording["inlet.pressure"]; // sampled at 1 kHz
            const auto back = static_cast<std::ptrdiff_t>(1000 * (1 + 0.67 * surge.start.round_trip));
            const double rise =
                *std::max_element(pressure.begin() + 1000, pressure.begin() + back) - pressure[1000];
            CHECK(surge.start.sudden_change == relative(rise, 0.06));
        }
}

TEST_CASE("water that a vessel takes is not stopped when the demand is: as fast as the gas gives way"
          * doctest::test_suite("long")) {
    const auto scenario = line(short_supply, R"(pipe = { length = "60 m", kind = "steel/DN80" }
[[downstream.vessel]]
volume = "20 L"
precharge = "2 bar"
at = "far-end"
)",
                               R"(kind = "draw"
start = "5 L/s"
steps = [{ at = "1 s", to = "0 L/s", over = "0 s" }])",
                               "6 s");
    const auto outcome = simulate(scenario);
    const auto& start = outcome.surges.at(1).start;
    const auto pipe = steel();
    CHECK(start.pipe == "downstream_pipe");
    CHECK(start.velocity_change == relative(-5e-3 / pipe.area(), 1e-3)); // all of it, in the end
    CHECK_FALSE(start.fast());
    // A rigid column against the gas: a quarter of the period 2 pi sqrt(rho L V / (A n p)) with the gas at the pressure of the
    // start; the valve shuts meanwhile and the gas stiffens, so within a factor of two only.
    const double gauge = start.before, p = gauge + 1.01325 * bar;
    const double volume = 20e-3 * std::pow((2 * bar + 1.01325 * bar) / p, 1 / 1.2);
    const double quarter =
        std::acos(-1) / 2 * std::sqrt(pipe.density * 60 * volume / (pipe.area() * 1.2 * p));
    CHECK(start.duration > 0.5 * quarter);
    CHECK(start.duration < 2 * quarter);
    const auto text = surge_text(scenario, outcome.verdict, outcome.surges);
    CHECK(text.find("in 0 s") == std::string::npos);
    CHECK(text.find("if sudden, a rise of") != std::string::npos);
}

TEST_CASE("a wave arrives at the valve after L/a") {
    const auto outcome = stop("0.05 s");
    const auto& surge = outcome.surges.at(1);
    const double travel = at(surge, "outlet").arrival - at(surge, "far_end").arrival;
    // The station answers as it rises, so a tenth of the largest move is made a little sooner or later than at the far
    // end: within a fifth of the ramp of 0.05 s, and of a sample.
    CHECK(std::abs(travel - 300 / steel().wave_speed) < 0.011);
    CHECK(at(surge, "inlet").arrival >= at(surge, "outlet").arrival);
}

TEST_CASE("a change slower than 2L/a is called slow and a faster one fast" * doctest::test_suite("long")) {
    const double round_trip = 600 / steel().wave_speed; // 0.48 s
    CHECK(stop(fmt::format("{} s", 0.9 * round_trip)).surges.at(1).start.fast());
    CHECK_FALSE(stop(fmt::format("{} s", 1.1 * round_trip)).surges.at(1).start.fast());
}

TEST_CASE("a slow stop where pipes meet would raise what they share were it sudden: the sudden stop does"
          * doctest::test_suite("long")) {
    const auto stopped_in = [](const char* over) {
        return line(short_supply, R"(pipe = { length = "60 m", kind = "steel/DN50", cells = 32 }
branch = [{ name = "wing", pipe = { length = "60 m", kind = "steel/DN40", cells = 32 }, demand = { kind = "draw", start = "1 L/s" } }])",
                    fmt::format(R"(kind = "draw"
start = "2 L/s"
steps = [{{ at = "1 s", to = "0 L/s", over = "{}" }}])",
                                over),
                    "3 s");
    };
    // A junction: every pipe takes dp = rho a dv, and what the consumer leaves off is shared (V. L. Streeter and E. B. Wylie, Fluid
    // Transients, from memory): dp = dQ / sum(A / (rho a)).
    double shared = 0;
    for (const auto& run : scenarios::build(stopped_in("1 s")).parts.pipes)
        if (run.name == "downstream_pipe" || run.name == "wing_pipe")
            shared += run.pipe.area() / (run.pipe.density * run.pipe.speed());
    const auto slow = simulate(stopped_in("1 s")).surges.at(1).start;
    CHECK_FALSE(slow.fast());
    CHECK(slow.sudden_change == relative(2e-3 / shared, 1e-6));
    const auto sudden = simulate(stopped_in("0 s")).surges.at(1);
    CHECK(sudden.start.fast());
    CHECK(sudden.start.sudden_change
          == relative(2e-3 / shared, 0.03)); // of the water in one pipe, read between two samples
}

TEST_CASE("what starts a surge is looked for where the event is: at the source, beside the station") {
    const auto sag =
        simulate(line(R"(steps = [{ at = "1 s", to = "5 bar", over = "0.1 s" }]
pipe = { length = "200 m", kind = "steel/DN100" })",
                      R"(pipe = { length = "60 m", kind = "steel/DN80" })", R"(start = "5 L/s")", "3 s"));
    CHECK(sag.surges.at(1).start.pipe == "supply_pipe");
    CHECK(sag.surges.at(1).start.velocity_change < 0);
    CHECK(sag.surges.at(1).start.at == "source");
    CHECK(sag.surges.at(1).start.joukowsky < 0); // slowed from upstream: the pressure falls
    // The source's own change, however slowly the water follows it.
    CHECK(sag.surges.at(1).start.sudden_change == relative(-2.5 * bar, 1e-9));
    CHECK(sag.surges.at(1).start.bound == SurgeStart::Bound::source);
    CHECK(sag.surges.at(1).start.reflected_from == "the station");

    auto shut = line(short_supply, R"(pipe = { length = "200 m", kind = "steel/DN80" })",
                     R"(start = "3 L/s")", "3 s");
    shut.stages[0].cock = 1;
    shut.adjustments = {{.at = 1, .what = scenarios::Control::cock, .to = 0, .over = 0.1}};
    const auto surge = simulate(shut).surges.at(1);
    CHECK(surge.start.velocity_change < 0);
    CHECK((surge.start.pipe == "supply_pipe" || surge.start.pipe == "downstream_pipe"));
}

TEST_CASE(
    "a consumer ahead of the station that shuts sends its wave to the source, and the inlet sees it first") {
    const auto outcome =
        simulate(line(R"(pipe = { length = "300 m", kind = "ductile-iron/DN100" }
consumer = [{ name = "boiler", kind = "draw", start = "4 L/s", steps = [{ at = "1 s", to = "0 L/s", over = "0.05 s" }] }])",
                      R"(pipe = { length = "60 m", kind = "steel/DN80" })", R"(start = "3 L/s")", "3 s"));
    const auto& surge = outcome.surges.at(1);
    CHECK(surge.start.pipe == "supply_pipe");
    CHECK(surge.start.reflected_from == "the source");
    const auto& inlet = at(surge, "inlet");
    // The station beside it takes some of the water in as the inlet rises.
    CHECK(inlet.highest - inlet.before > 0.7 * surge.start.joukowsky);
    CHECK(inlet.highest - inlet.before < 1.1 * surge.start.joukowsky); // with the line packing of 300 m
    CHECK(inlet.arrival < 0.05);                                       // within the ramp
    CHECK(at(surge, "outlet").arrival < at(surge, "far_end").arrival);
}

TEST_CASE("a consumer that opens lowers the pressure in figures and in words" * doctest::test_suite("long")) {
    const auto scenario = line(short_supply, R"(pipe = { length = "300 m", kind = "steel/DN80" })",
                               R"(kind = "draw"
start = "2 L/s"
steps = [{ at = "1 s", to = "3 L/s", over = "0 s" }])",
                               "2 s");
    const auto outcome = simulate(scenario);
    const auto& surge = outcome.surges.at(1);
    const auto pipe = steel();
    CHECK(surge.start.velocity_change == relative(1e-3 / pipe.area(), 1e-6));
    CHECK(surge.start.joukowsky == relative(-pipe.density * pipe.wave_speed * 1e-3 / pipe.area(), 1e-6));
    CHECK(surge.start.bound == SurgeStart::Bound::none);
    CHECK(surge.start.sudden_change == surge.start.joukowsky);
    // And so it does, as long as friction along the line has hardly begun to follow.
    const auto& end = at(surge, "far_end");
    const auto soon = static_cast<std::size_t>(1000 * (1 + 0.1 * surge.start.round_trip));
    const double fall = outcome.record.recording["far_end.pressure"][soon] - end.before;
    CHECK(fall == relative(surge.start.sudden_change, 0.02));
    const auto text = surge_text(scenario, outcome.verdict, outcome.surges);
    CHECK(text.find("sped up by 0.19 m/s") != std::string::npos);
    CHECK(text.find("a drop of 2.57 bar at far end by Joukowsky") != std::string::npos);
    CHECK(text.find("rise of") == std::string::npos);
}

TEST_CASE("a drop ends at vapour pressure, whatever Joukowsky's formula gives") {
    const auto scenario = line(short_supply, R"(pipe = { length = "100 m", kind = "steel/DN80" })",
                               R"(start = "1 L/s"
steps = [{ at = "1 s", to = "8 L/s", over = "2 s" }])",
                               "4 s");
    const auto outcome = simulate(scenario);
    const auto& start = outcome.surges.at(1).start;
    const double vapour = start.before + start.sudden_change;
    CHECK(vapour == relative(-1.01325 * bar + 2339, 0.02)); // 20 degC, IAPWS, as gauge pressure
    CHECK(start.bound == SurgeStart::Bound::vapour);
    CHECK(start.joukowsky < start.sudden_change);
    const auto text = surge_text(scenario, outcome.verdict, outcome.surges);
    CHECK(text.find("if sudden, a drop of ") != std::string::npos);
    CHECK(text.find(" at far end, down to vapour pressure (") != std::string::npos);
    CHECK(text.find(" bar by Joukowsky is more than there is)") != std::string::npos);
    const auto table = surge_table(outcome.surges);
    const auto column = [&](const char* name) -> const auto& {
        return std::ranges::find(table, name, &sim::Column::name)->rows;
    };
    CHECK(std::get<std::vector<double>>(column("sudden_change")).back() == start.sudden_change);
    CHECK(std::get<std::vector<double>>(column("change_from")).back() == start.before);
    CHECK(std::get<std::vector<std::string>>(column("sudden_bound")).back() == "vapour pressure");
    CHECK(std::get<std::vector<std::string>>(column("change_at")).back() == "far_end");
}

TEST_CASE("a column that parts is told at its points and inside its pipe, with when, how long and how much") {
    // The source fails; the pipe climbs so far that what is left in it cannot reach the top.
    const auto outcome =
        simulate(line(R"(backflow = "stopped"
steps = [{ at = "1 s", to = "0 bar", over = "0.2 s" }]
pipe = { length = "300 m", kind = "ductile-iron/DN100", rise = "25 m" })",
                      R"(pipe = { length = "60 m", kind = "steel/DN80" })", R"(start = "7 L/s")", "5 s"));
    const auto& surge = outcome.surges.at(1);
    const auto& inlet = at(surge, "inlet");
    CHECK(inlet.cavity > 0);
    CHECK(inlet.parted_at > 0);
    CHECK(inlet.parted_for > 0);
    CHECK(inlet.lowest > -1.01325 * bar); // gauge: above vacuum
    REQUIRE(std::ranges::count(surge.cavities, "supply_pipe", &PipeCavity::pipe) == 1);
    const auto& inside = *std::ranges::find(surge.cavities, "supply_pipe", &PipeCavity::pipe);
    CHECK(inside.cavity > 0);
    CHECK(inside.from < inside.to);
    CHECK(inside.to < 300);
    CHECK(inside.to > 290); // it parts at the top
    CHECK(outcome.surges.at(0).cavities.empty());
    const auto text = surge_text(line(short_supply, short_supply, R"(start = "1 L/s")", "1 s"),
                                 outcome.verdict, outcome.surges);
    CHECK(text.find("COLUMN PARTS at inlet after ") != std::string::npos);
    CHECK(text.find("COLUMN PARTS inside supply pipe after ") != std::string::npos);
}

TEST_CASE("the surge table has a row for each event and point with what the verdict holds"
          * doctest::test_suite("long")) {
    const auto outcome = stop("0.05 s");
    const auto table = surge_table(outcome.surges);
    const auto column = [&](const char* name) {
        return std::get<std::vector<double>>(std::ranges::find(table, name, &sim::Column::name)->rows);
    };
    const auto& points =
        std::get<std::vector<std::string>>(std::ranges::find(table, "point", &sim::Column::name)->rows);
    const std::size_t per_event = outcome.surges[0].points.size();
    REQUIRE(points.size()
            == 2 * per_event + outcome.surges[0].cavities.size() + outcome.surges[1].cavities.size());
    const auto row =
        per_event
        + static_cast<std::size_t>(std::ranges::find(outcome.surges[1].points, "far_end", &PointSurge::point)
                                   - outcome.surges[1].points.begin());
    CHECK(points[row] == "far_end");
    CHECK(column("event")[row] == 2);
    CHECK(column("highest")[row] == at(outcome.surges[1], "far_end").highest);
    CHECK(column("joukowsky")[row] == outcome.surges[1].start.joukowsky);
    CHECK(std::isnan(column("joukowsky").front())); // at the start nothing happens
}

TEST_CASE("velocity and cavitation are told against the usual limits, cavitation as screening only") {
    // 16 L/s in DN80 of 80.9 mm: 3.1 m/s; from 7.5 to below 1 bar is deep for one stage.
    auto deep = line(short_supply, R"(pipe = { length = "60 m", kind = "steel/DN80" })", R"(start = "16 L/s"
at_pressure = "0.5 bar")",
                     "1 s");
    deep.stages[0].set_pressure = 0.9 * bar;
    const auto outcome = simulate(deep);
    CHECK(outcome.surges.at(0).velocity > usual_velocity_limit);
    CHECK(outcome.surges.at(0).cavitation_index < 1.5);
    const auto text = surge_text(deep, outcome.verdict, outcome.surges);
    CHECK(text.find("damaging (screening only)") != std::string::npos);
    CHECK(text.find("usual limit 2.00 m/s") != std::string::npos);
    const auto calm = simulate(line(short_supply, short_supply, R"(start = "3 L/s")", "1 s"));
    CHECK(surge_text(deep, calm.verdict, calm.surges).empty());
}
