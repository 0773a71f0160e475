/// Small motions that grow fast, but only to a cycle that nobody sees.
#include "scenarios/read_scenario.h"
#include "tests/places.h"
#include "tests/relative.h"
#include "tools/commands/hunting_text.h"
#include "tools/commands/map_text.h"
#include "tools/studies/hunting_band.h"
#include "tools/studies/simulate.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cstddef>
#include <filesystem>
#include <string>

namespace {

using namespace needleturn;
using tests::relative;

/// A direct-acting valve with a seat that is not balanced, whose small motions grow fast, but by next to nothing.
scenarios::Scenario trembling() {
    constexpr auto text = R"(
title = "a tremble"
[supply]
pressure = "8 bar"
pipe = { length = "30 m", kind = "NPS 2 schedule 40" }
[[stage]]
hardware = "direct-acting/DN25"
override = { seat_bore = "5 mm", stem_breakaway = "10 N", sensing_line = { length = "0.3 m", bore = "6 mm" } }
set_pressure = "4.5 bar"
[downstream]
pipe = { length = "20 m", kind = "NPS 1 schedule 40" }
storage = "5 mL/bar"
[demand]
at_pressure = "4 bar"
start = "0.5 L/s"
[accept]
hunting_peak_to_peak = "0.2 bar"
knock = 0.3
[run]
duration = "10 s"
record_knock = "40 s"
)";
    const std::array<std::filesystem::path, 1> hardware{tests::source_folder() + "/scenarios/hardware"};
    return scenarios::parse_scenario(text, "tremble.toml", {}, hardware);
}

} // namespace

TEST_CASE("small motions that grow fast to a small cycle are told by its size, as a recording of the knock "
          "has it") {
    const auto scenario = trembling();
    const auto outcome = simulate(scenario);
    const auto& event = outcome.verdict.back();
    const auto& stability = event.stability;
    REQUIRE(stability.kind == Stability::Kind::does_not_hold);
    REQUIRE(stability.doubling_time() < 1);
    CHECK(stability.cycle_known);
    CHECK_FALSE(event.hunts());
    CHECK(outcome.passed);
    CHECK(hunting_text(event, scenario).starts_with("steady to within 0.00"));
    CHECK(hunting_text(event, scenario).ends_with("and grow no further"));
    // Integrated with a hundred times less of an error, and no judge: from 10 s on the cycle stays as it is.
    const auto& recording = outcome.record.after_knock.front().recording;
    const auto& outlet = recording["outlet.pressure"];
    const auto span = [&](double from, double to) {
        double low = 1e9, high = 0;
        for (std::size_t k = 0; k < outlet.size(); ++k)
            if (recording.time[k] >= from && recording.time[k] < to) {
                low = std::min(low, outlet[k]);
                high = std::max(high, outlet[k]);
            }
        return high - low;
    };
    CHECK(span(10, 20) == relative(span(30, 40), 0.05));
    CHECK(span(30, 40) < 0.25 * visible_flicker);
    CHECK(stability.span == relative(span(30, 40), 0.1));
}

TEST_CASE("a map says of unsteady flows that were not seen to hunt what knocks of them came to") {
    const auto scenario = trembling();
    auto map = flow_map(scenario, {0.45e-3, 0.55e-3, 3});
    find_hunting(scenario, map, {.knocked_flows = 2});
    REQUIRE(map.unsteady.size() == 1);
    CHECK(map.hunting.empty());
    const auto& band = map.unsteady.front();
    CHECK(band.knocks == 4); // up and down
    CHECK(band.unseen == band.knocks);
    CHECK(band.unseen_swing
          == relative(simulate(scenario, {}, Signals::judged).verdict.back().stability.span,
                      0.5)); // that of 0.5 L/s
    CHECK(map.grows_unseen(map.points.front()));
    CHECK(map_summary(scenario, map).find("after 4 of 4 knocks of flows in it that were not seen to hunt")
          != std::string::npos);
}
