// When a run is made again with twice as many cells, what is said of the heights, and what of limits that lie within.
#include "tools/studies/second_grid.h"

#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/commands/surge_text.h"
#include "tools/commands/verdict_text.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>
#include <variant>
#include <vector>

using namespace needleturn;
using tests::relative;

namespace {

constexpr double bar = 1e5;

/// A draw of 3 L/s through `downstream` that stops within 0.1 s at 1 s, judged against `accept`.
scenarios::Scenario stopping(const std::string& downstream, const std::string& accept = "") {
    const std::vector<std::filesystem::path> hardware{std::filesystem::path(tests::source_folder())
                                                      / "scenarios/hardware"};
    return scenarios::parse_scenario(
        fmt::format(
            "title = \"line\"\n[supply]\npressure = \"7.5 bar\"\n"
            "pipe = {{ length = \"30 m\", kind = \"steel/DN80\" }}\n"
            "[[stage]]\nname = \"main\"\nhardware = \"pilot-operated/DN65\"\nset_pressure = \"4.5 bar\"\n"
            "opening_control = \"1/2 turn\"\nclosing_control = \"6 turns\"\n"
            "[downstream]\npipe = {{ length = \"100 m\", kind = \"steel/DN80\"{} }}\n"
            "[demand]\nkind = \"draw\"\nstart = \"3 L/s\"\n"
            "steps = [{{ at = \"1 s\", to = \"0 L/s\", over = \"0.1 s\" }}]\n"
            "[accept]\n{}\n[run]\nduration = \"2 s\"\n",
            downstream, accept),
        "line.toml", {}, hardware);
}

/// Enough of a stop for the far end to fall to vapour pressure when the wave comes back.
scenarios::Scenario parting() {
    auto scenario = stopping("");
    scenario.demand.start = 6e-3;
    return scenario;
}

const PointSurge& at(const Outcome& outcome, const std::string& point) {
    return *std::ranges::find(outcome.surges.at(1).points, point, &PointSurge::point);
}

} // namespace

TEST_CASE("of a whole column one run knows a bound and twice the cells stay within it"
          * doctest::test_suite("long")) {
    const auto scenario = stopping("");
    const auto once = simulate(scenario);
    const auto& grid = once.grids.at(1);
    REQUIRE(grid.pipe == "downstream_pipe");
    const double bound = grid.height_error(0.1) * std::abs(once.surges.at(1).start.joukowsky);
    CHECK_FALSE(second_grid_reason(scenario, once));
    const auto finer = simulate(scenario, scenarios::build(scenario, 2), {}, {});
    CHECK(finer.grids.at(1).cells == 2 * grid.cells);
    CHECK(finer.grids.at(1).refinement == 2);
    for (const auto* point : {"inlet", "outlet", "far_end"}) {
        CAPTURE(point);
        CHECK(at(once, point).highest_spread >= bound * (1 - 1e-12));
        CHECK(std::abs(at(finer, point).highest - at(once, point).highest) <= at(once, point).highest_spread);
        CHECK(std::abs(at(finer, point).lowest - at(once, point).lowest) <= at(once, point).lowest_spread);
    }
    const auto text = surge_text(scenario, once.verdict, once.surges);
    CHECK(text.find("(within 0.") != std::string::npos);
    CHECK(cells_text(once).find("; peaks and troughs within ") != std::string::npos);
}

TEST_CASE("where the column parts the run is made again and three times the difference is the spread"
          * doctest::test_suite("long")) {
    const auto scenario = parting();
    const auto once = simulate(scenario);
    CHECK(second_grid_reason(scenario, once).value().parts);
    CHECK(std::isnan(at(once, "far_end").highest_spread));
    std::size_t calls = 0;
    const auto twice = with_second_grid(scenario, once, [&](double) { return ++calls > 0; });
    CHECK(calls > 100); // it can be watched, as the first
    CHECK(twice.record.failure.empty());
    CHECK(twice.grids.at(1).cells == 2 * once.grids.at(1).cells);
    CHECK(twice.record.scenario == once.record.scenario); // run again, it is the same two runs
    for (const auto* point : {"outlet", "far_end"})
        CHECK(at(twice, point).highest_spread
              == relative(3 * std::abs(at(twice, point).highest - at(once, point).highest), 1e-12));
    CHECK(cells_text(twice).find(
              fmt::format("downstream_pipe {} and {}", once.grids.at(1).cells, twice.grids.at(1).cells))
          != std::string::npos);
    auto surges = twice.surges;
    const auto parted =
        std::ranges::find_if(surges.at(1).points, [](const auto& point) { return point.cavity > 0; });
    REQUIRE(parted != surges.at(1).points.end());
    CHECK(surge_text(scenario, twice.verdict, surges).find(" in all, cavity up to ") != std::string::npos);
    parted->cavity = 1e-10;
    CHECK(surge_text(scenario, twice.verdict, surges).find(" in all, cavity too small to tell")
          != std::string::npos);
    const auto& table = twice.record.surge;
    const auto& grids =
        std::get<std::vector<double>>(std::ranges::find(table, "grids", &sim::Column::name)->rows);
    CHECK(std::ranges::all_of(grids, [](double number) { return number == 2; }));
}

TEST_CASE("cells that a scenario states are not refined whatever number they are") {
    const auto rule = scenarios::build(stopping("")).grids.at(1).cells;
    for (const auto stated : {rule - 1, rule, 2 * rule, 4 * rule}) {
        CAPTURE(stated);
        const auto grid = scenarios::build(stopping(fmt::format(", cells = {}", stated)), 2).grids.at(1);
        CHECK(grid.cells == stated);
        CHECK(grid.refinement == 1);
        CHECK(grid.as_stated);
    }
}

TEST_CASE("a second run that is stopped leaves the first and says what is not known") {
    const auto scenario = parting();
    const auto once = simulate(scenario);
    const auto stopped = with_second_grid(scenario, once, [](double time) { return time < 0.5; });
    CHECK(stopped.record.recording.time.back() == relative(2, 1e-9));
    CHECK(
        stopped.record.failure.find("the second run, with twice as many cells, ended early (stopped at t = ")
        == 0);
    CHECK_FALSE(stopped.passed);
}

TEST_CASE("cells that the scenario states are kept") {
    auto scenario = parting();
    scenario.downstream.pipe.cells = 24;
    scenario.supply.pipe.cells = 8;
    const auto once = simulate(scenario);
    CHECK(at(once, "far_end").cavity > 0);
    CHECK_FALSE(second_grid_reason(scenario, once));
    CHECK(scenarios::build(scenario, 2).parts.pipes.at(1).pipe.cells == 24);
}

TEST_CASE("a limit within the bound asks for a second grid and within the spread it is undecided"
          * doctest::test_suite("long")) {
    const auto first = simulate(stopping(""));
    const auto& outlet = at(first, "outlet");
    REQUIRE(outlet.highest_spread > 100); // Pa
    auto scenario = stopping("");
    scenario.accept.highest_outlet_pressure = outlet.highest + 0.5 * outlet.highest_spread;
    auto once = simulate(scenario);
    CHECK(once.passed);
    const auto reason = second_grid_reason(scenario, once).value();
    CHECK_FALSE(reason.parts);
    CHECK(reason.limit.limit == scenarios::Limit::highest_outlet_pressure);
    CHECK(reason.spread == outlet.highest_spread);

    auto twice = with_second_grid(scenario, once, {});
    const auto& finer = at(twice, "outlet");
    CHECK(finer.highest_spread < outlet.highest_spread);
    // Put between, the limit is open; well beyond, it is kept.
    scenario.accept.highest_outlet_pressure = finer.highest + 0.5 * finer.highest_spread;
    auto open = twice;
    mark_undecided(scenario, open);
    CHECK_FALSE(open.passed);
    const auto text = verdict_text(scenario, open);
    CHECK(text.find("undecided, highest outlet pressure ") != std::string::npos);
    CHECK(text.find("and the number of cells leaves ") != std::string::npos);
    CHECK(text.find("UNDECIDED: of 1 of ") != std::string::npos);
    CHECK(text.find("PASS") == std::string::npos);
    const auto& words = std::get<std::vector<std::string>>(
        std::ranges::find(open.record.verdict, "undecided", &sim::Column::name)->rows);
    CHECK(std::ranges::count(words, "") < std::ssize(words));
    // A bound that the grid's own height breaks, by less than its spread, is open and not broken as well.
    scenario.accept.highest_outlet_pressure = finer.highest - 0.5 * finer.highest_spread;
    auto over = simulate(scenario);
    CHECK_FALSE(over.passed);
    over = with_second_grid(scenario, std::move(over), {});
    mark_undecided(scenario, over);
    std::size_t told = 0;
    for (const auto& event : over.verdict)
        for (const auto& finding : event.findings)
            if (finding.limit == scenarios::Limit::highest_outlet_pressure) {
                CHECK(finding.undecided);
                ++told;
            }
    CHECK(told == 1);

    scenario.accept.highest_outlet_pressure = finer.highest + 2 * bar;
    mark_undecided(scenario, twice);
    CHECK(twice.passed);
}
