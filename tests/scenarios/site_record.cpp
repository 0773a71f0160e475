/// What was found and left on site: read, refused, and put back into the scenario.
#include "scenarios/site_record.h"
#include "scenarios/static_setting.h"

#include "scenarios/controls.h"
#include "scenarios/date.h"
#include "scenarios/settings.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <fstream>
#include <sstream>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

/// The error when in the nursery's text `before` is replaced by `after`; of its place "HERE" stands for the line of that text.
std::string error_with(const std::string& before, const std::string& after) {
    std::ostringstream text;
    text << std::ifstream{nursery_file}.rdbuf();
    auto changed = text.str();
    const auto at = changed.find(before);
    REQUIRE_MESSAGE(at != std::string::npos, before);
    const auto line =
        std::count(changed.begin(), changed.begin() + static_cast<std::ptrdiff_t>(at), '\n') + 1;
    auto error = error_of_text(changed.replace(at, before.size(), after));
    const auto place = fmt::format("night.toml:{}: ", line);
    if (error.starts_with(place))
        error.replace(0, place.size(), "HERE: ");
    return error;
}

std::string error_of_set(std::initializer_list<const char*> changes) {
    return error_of([&] { nursery(changes); });
}

} // namespace

TEST_CASE("a record says what stood where on which day") {
    const auto scenario = nursery();
    const auto& found = scenario.as_found;
    CHECK(found.date == "2026-03-01");
    CHECK(found.setting("main.opening_control") == 4);
    CHECK(found.setting("supply") == 7.4e5);
    CHECK(*found.setting("boiler") == relative(0.5e-3, 1e-12));
    CHECK(found.setting("main.set_pressure") == 4.3e5);
    CHECK(found.static_pressure == 4.3e5);
    CHECK_FALSE(found.setting("main.closing_control"));
    CHECK_FALSE(found.flowing_pressure);
    CHECK(*scenario.as_left.flow == relative(4e-3, 1e-12));
}

TEST_CASE("a screw is recorded in turns and kept as the set pressure that it makes") {
    const auto scenario =
        nursery({"as_found={ main.adjusting_screw = \"5 turns\", main.bleed = \"0.1 turns\" }"});
    const double per_turn = scenario.stages[0].pilot_operated()->pilot.pressure_per_turn;
    // The pilot's seat is not balanced (tests/scenarios/stem_pressures.cpp).
    const double set = set_by_spring_at_start(scenario.stages[0], 5 * per_turn, scenario.supply.pressure);
    CHECK(scenario.as_found.setting("main.set_pressure") == set);
    const auto found = parse_scenario(resolved(scenario), "resolved", std::vector<Override>{{"as=found"}});
    CHECK(found.stages[0].set_pressure == set);
    CHECK(found.stages[0].bleed == 0.1);
}

TEST_CASE("a record alone changes nothing of a station") {
    auto with = nursery();
    auto without = nursery({"as_found={}", "as_left={}"});
    CHECK(without.as_found.empty());
    CHECK(settings_of(with) == settings_of(without));
    with.as_found = with.as_left = {};
    CHECK(with == without);
}

TEST_CASE("a station can be set as it was found or left") {
    const auto stated = nursery();
    const auto found = nursery({"as=found"});
    CHECK(found.stages[0].opening_control == 4);
    CHECK(found.stages[0].closing_control == stated.stages[0].closing_control); // not recorded
    CHECK(found.stages[0].set_pressure == *stated.as_found.setting("main.set_pressure"));
    CHECK(found.supply.pressure == 7.4e5);
    CHECK(found.supply.consumers[0].demand.start == *stated.as_found.setting("boiler"));
    CHECK(found.downstream.branches[0].demand.start == *stated.as_found.setting("mist"));
    // Nobody turns anything; consumers and the supply do what they do.
    CHECK(found.adjustments.empty());
    CHECK(found.demand == stated.demand);
    CHECK(found.supply.steps == stated.supply.steps);
    CHECK(found.as_found == stated.as_found);
    CHECK(found == set_as(stated, stated.as_found));
    CHECK(stands_as(found, found.as_found));
    CHECK_FALSE(stands_as(stated, stated.as_found));

    const auto left = nursery({"as=left"});
    CHECK(left.stages[0].opening_control == 2.5);
    // Air as it sits there at the start: that stated at another pressure is gone.
    CHECK(left.stages[0].air_in_cover.volume == relative(5e-6, 1e-12));
    CHECK_FALSE(left.stages[0].air_in_cover.at);
    // What was not recorded as left was left as it was found.
    CHECK(left.supply.pressure == 7.4e5);
    CHECK(left.demand.start == *stated.as_left.setting("demand"));
    CHECK(left == set_as(stated, stated.as_left));
    CHECK(stands_as(left, left.as_left));
    CHECK_FALSE(stands_as(left, left.as_found));
    CHECK_FALSE(stands_as(nursery({"as=left", "supply.pressure=7.5 bar"}), left.as_left));
    CHECK(nursery({"as=stated"}) == stated);
}

TEST_CASE("overrides stand on top of a record wherever they stand and may change it") {
    CHECK(nursery({"main.opening_control=1 turn", "as=found"}).stages[0].opening_control == 1);
    CHECK(nursery({"as=found", "main.opening_control=1 turn"}).stages[0].opening_control == 1);
    CHECK(nursery({"as=found", "as_found.main.opening_control=2 turns"}).stages[0].opening_control == 2);
    CHECK(nursery({"as=found", "as=left"}).stages[0].opening_control == 2.5);
}

TEST_CASE("a station set as it was found is the same when it is read again") {
    const auto found = nursery({"as=found"});
    const auto again = parse_scenario(resolved(found), "resolved");
    CHECK(again == found);
    CHECK(parse_scenario(resolved(nursery()), "resolved", std::vector<Override>{{"as=found"}}) == found);
}

TEST_CASE("a setting that cannot be is refused with file and line and key") {
    CHECK(error_with("main.opening_control = \"4 turns\"", "main.opening_control = \"9 turns\"")
          == "HERE: as_found.main.opening_control = \"9 turns\": out of range; must be from 0 to 6 "
             "turns");
    CHECK(error_with("main.opening_control = \"4 turns\"", "main.opening_contol = \"4 turns\"")
          == "HERE: as_found.main.opening_contol = \"4 turns\": unknown key; nearest is "
             "opening_control; allowed: sustaining_pressure, set_pressure, adjusting_screw, opening_control, "
             "closing_control, air_in_cover, bleed, cock, outlet_cock");
    CHECK(error_with("main.opening_control = \"4 turns\"", "side.opening_control = \"4 turns\"")
          == "HERE: as_found.side = {...}: unknown key; allowed: date, remark, outlet, supply, strainer, "
             "demand, boiler, mist, main");
    CHECK(error_with("main.opening_control = \"4 turns\"", "main.stem_friction = \"5 N\"")
              .starts_with("HERE: as_found.main.stem_friction = \"5 N\": unknown key"));
    CHECK(error_with("main.opening_control = \"4 turns\"", "main.adjusting_screw = \"5 turns\"")
          == "HERE: as_found.main.adjusting_screw = \"5 turns\": set_pressure as well; write only "
             "one of them");
    CHECK(error_with("main.opening_control = \"4 turns\"", "main.cock = 0.5")
          == "HERE: as_found.main.cock = 0.5: main has no inlet cock; write cock = 1 in its "
             "[[stage]]");
    CHECK(error_with("main.air_in_cover = \"5 mL\"", "main.air_in_cover = \"5 L\"")
              .starts_with("HERE: as_left.main.air_in_cover = \"5 L\": must be less than the cover "
                           "holds, "));
    CHECK(error_with("flowing_pressure = \"3.9 bar\", ", "")
          == "HERE: as_left.outlet.flowing_pressure: missing; write what the outlet gauge read at the "
             "flow beside it");
}

TEST_CASE("a date that is none and days out of order are refused with file and line and key") {
    for (const auto* wrong : {"01.03.2026", "2026-02-30", "March", "2026-3-1", "2026-03-01T25:00"})
        CHECK(error_with("date = 2026-03-01\n", fmt::format("date = \"{}\"\n", wrong))
              == fmt::format("HERE: as_found.date = \"{}\": no date; write the year first, e.g. "
                             "\"2026-03-01\" or \"2026-03-01T14:05\"",
                             wrong));
    CHECK(error_with("date = 2026-03-01\n", "date = 3\n")
          == "HERE: as_found.date = 3: a bare number; a date is wanted, e.g. \"2026-03-01\"");
    CHECK(error_with("date = \"2026-03-01T16:30\"", "date = \"2026-02-28\"")
          == "HERE: as_left.date = \"2026-02-28\": lies before that of as_found, 2026-03-01");
    CHECK(error_of_set({"as_found.date=2026-03-01T16:31"})
              .ends_with("lies before that of as_found, "
                         "2026-03-01T16:31"));
    // A day alone is not before a time of the same day.
    CHECK(error_of_set({"as_found.date=2026-03-01T14:00", "as_left.date=2026-03-01"}).empty());
    CHECK(error_of_set({"as_found.date="}).empty());
}

TEST_CASE("a record that is not there cannot be asked for") {
    CHECK(error_of_set({"as=fond"})
          == "--set as=fond: unknown; nearest is found; allowed: stated, found, left");
    const auto nothing = error_of_set({"as=found", "as_found={}"});
    CHECK(nothing.starts_with("--set as=found: [as_found] of "));
    CHECK(nothing.ends_with("nursery.toml names no setting"));
    CHECK(error_with("name = \"main\"", "name = \"as_found\"")
          == "HERE: stage.name = \"as_found\": is taken: it names a section of the file");
}

TEST_CASE("names of stages and consumers that a record has itself are refused") {
    CHECK(error_of_set({"accept={}", "downstream.branch.1.name=remark", "as_left={}",
                        "as_found={ date = 2026-03-01 }"})
              .ends_with("as_found.remark: a consumer or branch has this name; give it another one"));
    CHECK(error_of_set({"main.name=date", "adjust={}", "as_left={}", "as_found={ remark = \"-\" }"})
              .ends_with("as_found.date: a stage has this name; give it another one"));
}

TEST_CASE("dates are days or days with a time") {
    for (const auto* date : {"2026-03-01", "2024-02-29", "2026-03-01 14:05", "2026-03-01T14:05:09.25Z"})
        CHECK(is_date(date));
    for (const auto* wrong : {"", "2026", "2026-03", "2026-03-01T", "2023-02-29", "2026-03-01x"})
        CHECK_FALSE(is_date(wrong));
    CHECK(lies_before("2026-02-28", "2026-03-01"));
    CHECK_FALSE(lies_before("2026-03-01", "2026-03-01"));
    CHECK(lies_before("2026-03-01T10:00+02:00", "2026-03-01T09:00Z"));
    CHECK_FALSE(lies_before("2026-03-01", "2026-03-01T09:00Z"));
}
