/// Ranges of hardware values: how they are spelt, what is refused, what a measurement does to them, written and read again.
#include "scenarios/hardware_range.h"
#include "tests/relative.h"
#include "tests/scenarios/nursery.h"

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace needleturn::scenarios;
using namespace needleturn::tests;

namespace {

constexpr double rounding = 1e-15; // some of a unit conversion and a factor

const HardwareRange* range_of(const Scenario& scenario, const std::string& key) {
    const auto& ranges = ranges_of(scenario.stages.front().hardware);
    const auto found = std::ranges::find(ranges, key, &HardwareRange::key);
    return found == ranges.end() ? nullptr : &*found;
}

/// Low, value and high in cm2.
void check_area(const char* text, double low, double value, double high) {
    CAPTURE(text);
    const auto read = parse_ranged(text, Dimension::area);
    CHECK(1e4 * read.low == relative(low, 4 * rounding));
    CHECK(1e4 * read.value == relative(value, 4 * rounding));
    CHECK(1e4 * read.high == relative(high, 4 * rounding));
}

bool says(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }

/// The override is refused in one line that names it and says `what`.
void check_refused(const char* change, std::string_view what) {
    const auto message = error_of([&] { nursery({change}); });
    CAPTURE(message);
    CHECK_MESSAGE(says(message, what), change);
    CHECK_MESSAGE(message.find('\n') == std::string::npos, change);
}

} // namespace

TEST_CASE("a value carries its range in several spellings and units") {
    check_area("78.5 cm2 +- 10 %", 70.65, 78.5, 86.35);
    check_area("78.5 cm2 ± 10 %", 70.65, 78.5, 86.35);
    check_area("78.5 cm2 +/- 10 %", 70.65, 78.5, 86.35);
    check_area("78.5 +- 5 cm2", 73.5, 78.5, 83.5);
    check_area("78.5 cm2 +- 500 mm2", 73.5, 78.5, 83.5);
    check_area("80 cm2 x/ 1.25", 64, 80, 100);
    check_area("80 cm2 ×÷ 1.25", 64, 80, 100);
    check_area("80 cm2 ×/÷ 1.25", 64, 80, 100);
    check_area("64..100 cm2", 64, 80, 100); // the geometric mean
    check_area("64 cm2..0.01 m2", 64, 80, 100);
    CHECK(parse_ranged("0..10 cm2", Dimension::area).low == 0);
    CHECK(parse_ranged("0..10 cm2", Dimension::area).value == relative(5e-4, rounding)); // half the upper end
    check_area("78.5 cm2 +- 0 %", 78.5, 78.5, 78.5);
    check_area("78.5..78.5 cm2", 78.5, 78.5, 78.5);
    // A percentage is one of the value, also of a ratio.
    const auto percent = parse_ranged("85..95 %", Dimension::ratio);
    CHECK(percent.low == relative(0.85, 1e-12));
    CHECK(percent.high == relative(0.95, 1e-12));
    const auto ratio = parse_ranged("1.3 +- 10 %", Dimension::ratio);
    CHECK(ratio.low == relative(1.17, rounding));
    CHECK(ratio.high == relative(1.43, rounding));
    CHECK(parse_ranged("1.3 +- 0.1", Dimension::ratio).low == relative(1.2, rounding));
}

TEST_CASE("a range leaves its value as it is to the last bit") {
    const auto plain = nursery({"main.override={}"});
    const auto ranged = nursery({"main.override.pilot.capacity=\"0.32 Cv x/ 1.7\""});
    CHECK(ranged.stages.front().pilot_operated()->pilot.capacity
          == plain.stages.front().pilot_operated()->pilot.capacity);
    REQUIRE(range_of(ranged, "pilot.capacity") != nullptr);
    const auto& range = *range_of(ranged, "pilot.capacity");
    CHECK(range.high / range.low == relative(1.7 * 1.7, rounding));
    CHECK(range.origin
          == "--set main.override.pilot.capacity=\"0.32 Cv x/ 1.7\": stage.override.pilot.capacity");
}

TEST_CASE("the generic families state ranges once for all sizes and say where") {
    const auto scenario = nursery({"main.override={}"});
    const auto& ranges = ranges_of(scenario.stages.front().hardware);
    CHECK(ranges.size() == 29);
    const auto* damping = range_of(scenario, "main_valve.stem_damping");
    REQUIRE(damping != nullptr);
    CHECK(damping->low == 320); // 640 N s/m by 2 either way
    CHECK(damping->high == 1280);
    CHECK(says(damping->origin, "pilot-operated.toml:"));
    CHECK(says(damping->origin, ": ranges.main_valve.stem_damping"));
    CHECK(range_of(scenario, "speed_control.full_turns") == nullptr);
    // [ranges] is no size.
    const auto message = error_of([] { nursery({"main.hardware=pilot-operated/ranges"}); });
    CHECK(says(message, "no such size"));
    CHECK(!says(message.substr(message.find("allowed")), "ranges"));
}

TEST_CASE("a measured value replaces the range and a better range narrows it") {
    CHECK(range_of(nursery({"main.override={}"}), "pilot.capacity") != nullptr);
    CHECK(range_of(nursery({"main.override={ pilot.capacity = \"0.3 Cv\" }"}), "pilot.capacity") == nullptr);
    // The bore measured is the area measured; its range is one of the area.
    CHECK(range_of(nursery({"main.override={ main_valve.seat_bore = \"80 mm\" }"}), "main_valve.seat_area")
          == nullptr);
    const auto bore = nursery({"main.override={ main_valve.seat_bore = \"80 mm +- 10 %\" }"});
    REQUIRE(range_of(bore, "main_valve.seat_area") != nullptr);
    const double area = std::numbers::pi / 4 * 0.08 * 0.08;
    CHECK(range_of(bore, "main_valve.seat_area")->low == relative(0.81 * area, rounding));
    CHECK(range_of(bore, "main_valve.seat_area")->high == relative(1.21 * area, rounding));
    // A range alone, about the value that is there.
    const auto narrowed = nursery({"main.override={ ranges.pilot.capacity = \"+- 2 %\", "
                                   "ranges.main_valve.seat_area = \"+- 1 %\" }"});
    const double capacity = narrowed.stages.front().pilot_operated()->pilot.capacity;
    CHECK(range_of(narrowed, "pilot.capacity")->high == relative(1.02 * capacity, rounding));
    CHECK(range_of(narrowed, "main_valve.seat_area")->high == relative(1.01 * 50.2e-4, rounding));
    CHECK(ranges_of(narrowed.stages.front().hardware).size() == 29); // none twice
    // A trim of another shape has no exponent, so no range of one either.
    CHECK(range_of(
              nursery({"main.override={ main_valve.trim = { shape = \"contoured\", rangeability = 50 } }"}),
              "main_valve.trim.exponent")
          == nullptr);
}

TEST_CASE("ranges that are wrong are refused in one line") {
    check_refused("main.override.pilot.capacity=0.3 Cv x/ 0.5", "a factor either way must be 1 or more");
    check_refused("main.override.pilot.capacity=0.3 Cv x/ 2 Cv", "a factor has no unit");
    check_refused("main.override.pilot.capacity=0.3 +- 10 %", "missing unit");
    check_refused("main.override.pilot.capacity=0.3 Cv +- 1 mm", "mm is a length");
    check_refused("main.override.pilot.capacity=0.3 Cv +- -10 %", "less than nothing");
    check_refused("main.override.pilot.capacity=0.5..0.3 Cv", "lower end first");
    check_refused("main.override.pilot.capacity=0.3 Cv +- 100 %", "reaches 0.00 Kv; must be greater than 0");
    check_refused("main.override.cover.modulus=1 GPa x/ 1e308", "reaches inf GPa; must be greater than 0");
    check_refused("main.override.main_valve.trim.exponent=1.8 x/ 2", "reaches 0.900; must be from 1 to 5");
    check_refused("main.override.main_valve.liquid_recovery_factor=0.9 +- 0.2", "reaches 1.100; must be");
    check_refused("main.override.ranges.pilot.capacity=10 %", "not a range; write e.g.");
    check_refused("main.override.ranges.pilot.capacity=1 Cv..2 Cv", "does not hold the value itself");
    check_refused("main.override.ranges.pilot.capacty=+- 10 %", "nearest is pilot.capacity");
    check_refused("main.override.ranges.pilot.capacity=3", "a range in quotes is wanted");
    check_refused("main.override.ranges=3", "ranges = 3: ");
    // Only of hardware, and only what a run reads.
    check_refused("supply.pressure=7 bar +- 10 %", "only what a run reads of hardware may have one");
    check_refused("main.override.pressure_rating=16 bar +- 10 %", "may have one");
}

TEST_CASE("a scenario writes its ranges and reads them again") {
    for (const auto* change :
         {"main.override={}", "main.override.pilot.capacity=0.1..0.7 Cv",
          "main.override.main_valve.stem_friction=0..20 N", "main.override.main_valve.seat_bore=80 mm +- 3 %",
          "main.override.cover.modulus=1 GPa x/ 1"}) {
        CAPTURE(change);
        const auto scenario = nursery({change});
        const auto text = resolved(scenario);
        CAPTURE(text);
        const auto again = parse_scenario(text, "resolved");
        CHECK(again == scenario);
        CHECK(resolved(again) == text);
        CHECK(ranges_of(again.stages.front().hardware) == ranges_of(scenario.stages.front().hardware));
    }
    // Equality minds the ranges, or the above means nothing.
    CHECK(!(nursery({"main.override={}"}) == nursery({"main.override.ranges.pilot.capacity=x/ 3"})));
}
