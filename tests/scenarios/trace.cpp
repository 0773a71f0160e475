/// Traces as loggers write them, and as they must not be.
#include "scenarios/trace.h"

#include "scenarios/date.h"
#include "scenarios/read_scenario.h"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

using namespace needleturn::scenarios;

namespace {

/// Rows of a gauge that moves, twelve of them, 0.5 s apart.
std::string rows(const std::string& separator, char point, const std::string& time = "") {
    std::string text;
    for (int i = 0; i < 12; ++i) {
        const std::string half = std::string(1, point) + (i % 2 == 0 ? "0" : "5");
        text += (time.empty() ? std::to_string(i / 2) + half : time + std::to_string(10 + i)) + separator
                + "4" + point + std::to_string(10 + (i * 7) % 12) + "\n";
    }
    return text;
}

std::string refusal(const std::string& text, const ChannelNames& asked = {}) {
    try {
        parse_trace(text, "log.csv", asked);
    } catch (const ScenarioError& error) {
        return error.what();
    }
    return "";
}

bool holds(const std::string& text, const std::string& piece) {
    return text.find(piece) != std::string::npos;
}

} // namespace

TEST_CASE("a trace is read alike with any separator and decimal point") {
    const auto comma = parse_trace("time [s],outlet [bar]\n" + rows(",", '.'), "log.csv");
    const auto semicolon = parse_trace("time (s);outlet (bar)\n" + rows(";", ','), "log.csv");
    const auto tab = parse_trace("t\tOutlet pressure\ns\tbar\n" + rows("\t", ','), "log.csv");
    REQUIRE(comma.channels.size() == 1);
    CHECK(comma.time[3] == 1.5);
    CHECK(comma.channels[0].values[1] == doctest::Approx(4.17e5));
    for (const auto* other : {&semicolon, &tab}) {
        CHECK(other->time == comma.time);
        CHECK(other->channels[0].values == comma.channels[0].values);
    }
}

TEST_CASE("dates become seconds and keep the first one") {
    const auto trace = parse_trace("Date;Outlet [psi]\n" + rows(";", '.', "2026-03-01 23:59:"), "log.csv");
    CHECK(trace.time[11] == 11);
    REQUIRE(trace.first);
    CHECK(*date_of("1970-01-02T00:00:00.25Z") == 86400.25);
    CHECK(*date_of("2026-03-01T14:05:09,5+01:00") == *date_of("2026-03-01 13:05:09.5"));
    CHECK(*date_of("2026-03-01 00:00") - *date_of("2026-02-28 00:00") == 86400); // 2026 is no leap year
    for (const auto* wrong : {"2026-02-30 00:00:00", "01.03.2026 00:00", "2026-03-01", "12.5", ""})
        CHECK_FALSE(date_of(wrong));
}

TEST_CASE("columns are found by name or number and units by header or option") {
    const auto text = "t;P1;P2\n" + rows(";1;", '.');
    CHECK(holds(refusal(text), "no column is called outlet"));
    CHECK(holds(refusal(text, {"outlet=P2"}), "unit is missing"));
    CHECK(holds(refusal(text, {"outlet=P3 [bar]"}), "there are t, P1, P2"));
    CHECK(holds(refusal(text, {"exit=P2 [bar]"}), "write outlet=COLUMN"));
    CHECK(holds(refusal(text, {"outlet=P2 [mA]"}), "column P2"));
    const auto named = parse_trace(text, "log.csv", {"outlet=P2 [m]"});
    const auto numbered = parse_trace(text, "log.csv", {"outlet=3 [m]", "time=1 [min]"});
    CHECK(named.channels[0].values[0] == doctest::Approx(4.10 * 9806.65)); // m of water, conventional
    CHECK(numbered.channels[0].values == named.channels[0].values);
    CHECK(numbered.time[1] == 30);
}

TEST_CASE("rows out of order and rows of one time and gaps are put right and told") {
    const auto text = "time,outlet [bar]\n" + rows(",", '.') + "0.25,4.5\n0.25,4.7\n99,4.2\n100,\n";
    const auto trace = parse_trace(text, "log.csv");
    CHECK(trace.time[1] == 0.25);
    CHECK(trace.channels[0].values[1] == doctest::Approx(4.6e5));
    CHECK(std::isnan(trace.channels[0].values.back()));
    REQUIRE(trace.notes.size() == 4);
    CHECK(holds(trace.notes[0], "time goes back at 1 row"));
    CHECK(holds(trace.notes[1], "1 row has a time that is there already"));
    CHECK(holds(trace.notes[2], "1 gap without rows, the longest 93.5 s"));
    CHECK(holds(trace.notes[3], "1 of 15 readings"));
    const auto cut = parse_trace("time,outlet [bar]\n" + rows(",", '.') + "6.0", "log.csv");
    CHECK(cut.time.size() == 12);
    CHECK(holds(cut.notes.at(0), "cut short"));
}

TEST_CASE("what is no trace is refused in one line") {
    const std::string head = "time,outlet [bar]\n";
    std::string still, clipped;
    for (int i = 0; i < 40; ++i) {
        still += std::to_string(i) + ",4.1\n";
        clipped += std::to_string(i) + ","
                   + (i > 10 && i < 20 ? "6.0" : "4.1" + std::to_string((i * 37) % 89)) + "\n";
    }
    CHECK(holds(refusal(""), "no rows"));
    CHECK(holds(refusal("hello\nworld\n"), "no columns"));
    CHECK(holds(refusal(head), "no rows with numbers"));
    CHECK(holds(refusal(head + still), "never moves"));
    CHECK(holds(refusal(head + clipped), "end of its scale"));
    CHECK(holds(refusal(head + rows(",", '.') + "7,4.1,3\n8,4\n"), "log.csv:14: 3 cells"));
    CHECK(holds(refusal(head + rows(",", '.') + "7,four\n"), "log.csv:14: outlet = \"four\""));
    CHECK(holds(refusal(head + rows(",", '.') + "noon,4\n"), "log.csv:14: time = \"noon\""));
    CHECK(holds(refusal(head + "0,4.1\n1,4.2\n"), "10 or more are wanted"));
}
