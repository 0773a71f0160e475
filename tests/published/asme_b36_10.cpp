// ASME B36.10M, welded and seamless steel pipe: inside diameters as public pipe charts that quote it print them, in inches
// (engineerlaboratory.com/tables/pipe-schedule-dimensions for schedules 40 and 80; a shop's chart for schedule 10, and
// industrialequipmentspecs.com/knowledge/piping-schedules for the walls of schedule 160, both read as excerpts). The
// standard itself was not at hand; the table of scenarios/pipe_kind.cpp is from memory.
#include "scenarios/scenario.h"
#include "tests/relative.h"

#include <fmt/format.h>

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace scenarios = needleturn::scenarios;

namespace {

constexpr double inch = 25.4e-3;

const scenarios::PipeKind& pipe(const std::string& nominal, int schedule) {
    const auto name = fmt::format("NPS {} schedule {}", nominal, schedule);
    const auto found = std::ranges::find(scenarios::pipe_kinds(), name, &scenarios::PipeKind::name);
    REQUIRE_MESSAGE(found != scenarios::pipe_kinds().end(), name);
    return *found;
}

} // namespace

TEST_CASE("inch pipe has the bores that charts of ASME B36.10M print for schedules 10 and 40 and 80") {
    const struct {
        const char* nominal;
        double outside, bore_10, bore_40, bore_80;
    } rows[] = {{"1/2", 0.840, 0.674, 0.622, 0.546},   {"3/4", 1.050, 0.884, 0.824, 0.742},
                {"1", 1.315, 1.097, 1.049, 0.957},     {"1 1/4", 1.660, 1.442, 1.380, 1.278},
                {"1 1/2", 1.900, 1.682, 1.610, 1.500}, {"2", 2.375, 2.157, 2.067, 1.939},
                {"2 1/2", 2.875, 2.635, 2.469, 2.323}, {"3", 3.500, 3.260, 3.068, 2.900},
                {"4", 4.500, 4.260, 4.026, 3.826},     {"5", 5.563, 5.295, 5.047, 4.813},
                {"6", 6.625, 6.357, 6.065, 5.761},     {"8", 8.625, 8.329, 7.981, 7.625},
                {"10", 10.750, 10.420, 10.020, 9.562}, {"12", 12.750, 12.390, 11.938, 11.374}};
    constexpr double rounding = 1e-9; // m: charts print these to the last digit
    for (const auto& row : rows) {
        CAPTURE(row.nominal);
        CHECK(std::abs(pipe(row.nominal, 10).bore - row.bore_10 * inch) < rounding);
        CHECK(std::abs(pipe(row.nominal, 40).bore - row.bore_40 * inch) < rounding);
        CHECK(std::abs(pipe(row.nominal, 80).bore - row.bore_80 * inch) < rounding);
        for (const int schedule : {10, 40, 80, 160}) {
            const auto& of = pipe(row.nominal, schedule);
            CHECK(std::abs(of.bore + 2 * of.wall - row.outside * inch) < rounding);
        }
    }
}

TEST_CASE("inch pipe of schedule 160 has the walls that a chart of ASME B36.10M prints") {
    const struct {
        const char* nominal;
        double wall;
    } rows[] = {{"1", 0.250}, {"2", 0.344}, {"4", 0.531}, {"6", 0.719}, {"8", 0.906}, {"12", 1.312}};
    for (const auto& row : rows) {
        CAPTURE(row.nominal);
        CHECK(std::abs(pipe(row.nominal, 160).wall - row.wall * inch) < 1e-9);
    }
}
