/// The turn window against runs at, within and beyond its ends.
#include "tests/own_folder.h"
#include "tests/places.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/simulate.h"
#include "tools/studies/turn_window.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <string>
#include <vector>

using namespace needleturn;

namespace {

/// Everything stops; with few turns of the closing control the outlet surges beyond a limit.
WindowQuestion question() {
    WindowQuestion question;
    question.scenario = tests::source_folder() + "/scenarios/nursery-stop.toml";
    question.set = {{"run.duration=9 s"}, {"accept.highest_outlet_pressure=6.6 bar"}};
    question.needles = {"main.closing_control"};
    return question;
}

bool good(double turns, const char* condition = nullptr) {
    auto overrides = question().set;
    overrides.push_back({question().needles.front() + "=" + std::to_string(turns) + " turns"});
    if (condition != nullptr)
        overrides.push_back({condition});
    return simulate(scenarios::read_scenario(question().scenario, overrides, hardware_folders()), {},
                    Signals::judged)
        .passed;
}

} // namespace

TEST_CASE("a needle's window ends where a run breaks a limit, to a twentieth of the turns, and says which") {
    const auto window = find_turn_window(question());
    REQUIRE(window.found);
    REQUIRE(window.needles.size() == 1);
    const auto& needle = window.needles.front();
    CHECK(needle.low > question().fewest);
    CHECK(good(needle.low));
    CHECK(!good(needle.low / window_resolution));
    REQUIRE(needle.below);
    CHECK(needle.below->finding.limit == scenarios::Limit::highest_outlet_pressure);
    CHECK(needle.below->finding.value > needle.below->finding.bound);
    CHECK(window.recommended.front() > needle.low); // well inside, in eighths of a turn
    CHECK(std::fmod(8 * window.recommended.front(), 1) == 0);
    CHECK(window.recommended.front() <= needle.high);
    CHECK(window.runs < window.grid_runs);
    REQUIRE(window.margins.size() == 1);
    CHECK(window.margins.front().fraction > 0);
}

TEST_CASE("why a setting is recommended are the settings of the grid and what lies beside them") {
    const auto asked = question();
    const auto window = find_turn_window(asked);
    REQUIRE(window.choice);
    const auto& choice = *window.choice;
    const auto turns = coarse_turns(asked.fewest, asked.most);
    // Counted anew from all settings that were run: of one needle the grid is its steps.
    std::vector<const Tried*> grid;
    for (const double t : turns)
        for (const auto& tried : window.tried)
            if (tried.turns.front() == t)
                grid.push_back(&tried);
    REQUIRE(grid.size() == turns.size());
    CHECK(choice.grid == grid.size());
    std::size_t good = 0;
    double most = 0;
    for (std::size_t i = 0; i < grid.size(); ++i) {
        if (grid[i]->breach)
            continue;
        ++good;
        most = std::max(most, grid[i]->margin);
        if (turns[i] == window.recommended.front()) {
            CHECK(choice.recommended.left == grid[i]->margin);
            const bool first = i == 0, last = i + 1 == grid.size();
            CHECK(choice.recommended.beside == std::size_t{!first} + std::size_t{!last});
            CHECK(choice.recommended.kept
                  == std::size_t{!first && !grid[i - 1]->breach}
                         + std::size_t{!last && !grid[i + 1]->breach});
        }
    }
    CHECK(choice.good == good);
    CHECK(choice.recommended.left >= 0.75 * most);
    CHECK(choice.more_left.has_value() == (most > choice.recommended.left));
}

TEST_CASE("a coarse step beside the edge of its window gives way to an eighth with more room"
          * doctest::test_suite("long")) {
    // A stop into a vessel and water drawn again: of the opening control 0.5 to 0.94 turns keep every limit, and of the coarse grid
    // 0.875 turns leave most.
    const tests::OwnFolder folder;
    std::filesystem::create_directory_symlink(tests::source_folder() + "/scenarios/hardware",
                                              folder.path() / "hardware");
    std::ofstream(folder.path() / "vessel.toml") << R"(title = "vessel"
[liquid]
density = "1060 kg/m3"
viscosity = "6 mPa s"
bulk_modulus = "2.4 GPa"
vapour_pressure_abs = "0.015 bar"
free_gas = "0.1 %"
[supply]
pressure = "8 bar"
pipe = { length = "30 m", kind = "steel/DN80" }
[[stage]]
name = "main"
hardware = "pilot-operated/DN65"
set_pressure = "4 bar"
opening_control = "3 turns"
closing_control = "1.625 turns"
[downstream]
pipe = { length = "60 m", kind = "steel/DN80", rise = "5 m" }
storage = "50 mL/bar"
vessel = [{ volume = "20 L", precharge = "2 bar", at = "far-end", thermal_time = "13 s" }]
[demand]
at_pressure = "3 bar"
start = "5 L/s"
steps = [{ at = "3 s", to = "0 L/s", over = "0.5 s" }, { at = "30 s", to = "6 L/s", over = "1 s" }]
[accept]
highest_outlet_pressure = "6 bar"
lowest_outlet_pressure = "2.5 bar"
hunting_peak_to_peak = "0.2 bar"
[run]
duration = "60 s"
)";
    WindowQuestion question;
    question.scenario = folder.path() / "vessel.toml";
    question.needles = {"main.opening_control"};
    question.threads = 2;
    const auto window = find_turn_window(question);
    REQUIRE(window.found);
    const auto& needle = window.needles.front();
    const double turns = window.recommended.front();
    REQUIRE(window.choice);
    REQUIRE(window.choice->moved_from);
    const double from = window.choice->moved_from->turns.front();
    const auto room = [&](double t) { return std::min(t - needle.low, needle.high - t); };
    CHECK(room(from) < 0.125); // an eighth more fails
    CHECK(room(turns) > 0.125);
    CHECK(std::fmod(8 * turns, 1) == 0);
    CHECK(window.choice->recommended.left > 0.75 * window.choice->moved_from->left);
    // Either neighbouring eighth was run, or lies between two that keep every limit.
    for (const double t : {turns - 0.125, turns + 0.125}) {
        CHECK(t > needle.low);
        CHECK(t < needle.high);
    }
}

TEST_CASE("a window over a range of supply pressure is no wider than without and holds at both ends of the "
          "range"
          * doctest::test_suite("long")) {
    auto over = question();
    over.over = {{"supply.pressure", "7.5 bar", "8.5 bar"}};
    const auto wide = find_turn_window(question()), narrow = find_turn_window(over);
    REQUIRE(narrow.found);
    CHECK(narrow.needles.front().low >= wide.needles.front().low);
    CHECK(narrow.margins.front().fraction <= wide.margins.front().fraction);
    for (const auto* pressure : {"supply.pressure=7.5 bar", "supply.pressure=8.5 bar"})
        CHECK(good(narrow.needles.front().low, pressure));
}

TEST_CASE(
    "settings that run side by side leave as much as the same alone, to the bit on any number of threads") {
    auto asked = question();
    const auto one = find_turn_window(asked);
    asked.threads = 3;
    const auto three = find_turn_window(asked);
    REQUIRE(one.tried.size() == three.tried.size());
    for (std::size_t i = 0; i < one.tried.size(); ++i) {
        CHECK(one.tried[i].turns == three.tried[i].turns);
        CHECK(one.tried[i].margin == three.tried[i].margin);
    }
    // The coarse grid runs in lanes: those are the same runs but for rounding.
    for (const auto& tried : one.tried) {
        auto overrides = asked.set;
        overrides.push_back({asked.needles.front() + "=" + std::to_string(tried.turns.front()) + " turns"});
        const auto alone = simulate(scenarios::read_scenario(asked.scenario, overrides, hardware_folders()),
                                    {}, Signals::judged);
        double highest = 0;
        for (const auto& event : alone.verdict)
            highest = std::max(highest, event.highest);
        CHECK(tried.margin
              == doctest::Approx((6.6e5 - highest) / 6.6e5).epsilon(1e-4)); // turns in six decimals
    }
}

TEST_CASE("no setting outside the range of turns is tried, however near the next eighth is") {
    auto narrow = question();
    narrow.fewest = 0.9;
    narrow.most = 1.05;
    for (const auto& tried : find_turn_window(narrow).tried) {
        CHECK(tried.turns.front() >= narrow.fewest);
        CHECK(tried.turns.front() <= narrow.most);
    }
}

TEST_CASE("where no turns are good the window says what breaks, and without limits there is none to find") {
    auto hopeless = question();
    hopeless.set.back() = {"accept.highest_outlet_pressure=4.6 bar"};
    const auto window = find_turn_window(hopeless);
    CHECK(!window.found);
    CHECK(window.margins.front().fraction < 0);
    REQUIRE(window.breach);
    CHECK(window.breach->finding.limit == scenarios::Limit::highest_outlet_pressure);

    auto limitless = question();
    limitless.scenario = tests::source_folder() + "/scenarios/laundry-commissioning.toml";
    limitless.set.clear();
    limitless.needles = {"main.no_such_key"};
    CHECK_THROWS_AS(find_turn_window(limitless), std::runtime_error);
}
