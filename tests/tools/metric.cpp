/// Metrics by formula: what they compute, in which unit, over which window, and how a wrong one is refused.
#include "tools/studies/metric.h"
#include "scenarios/table_reader.h"
#include "tests/places.h"
#include "tests/tools/small_sweep.h"
#include "tools/studies/simulate.h"
#include "tools/studies/sweep_case.h"
#include "tools/studies/unit_exponents.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <numbers>
#include <optional>
#include <string>
#include <utility>
#include <vector>

using namespace needleturn;
using namespace needleturn::tests;
using scenarios::StudyMetric;

namespace {

constexpr double interval = 0.001; // s

/// 2 s of a sine of 5 Hz about 3, a ramp of 0.25 a second, and a flow that stands.
sim::Recording recording() {
    sim::Recording made;
    made.quantities = {{"outlet.pressure", "Pa", 1, ""},
                       {"main.lift", "m", 1, ""},
                       {"zone-1.flow", "m3 s-1", 1, ""},
                       {"main.share", "1", 1, ""}};
    made.values.resize(4);
    for (int i = 0; i <= 2000; ++i) {
        const double t = i * interval;
        made.time.push_back(t);
        made.values[0].push_back(3 + std::sin(2 * std::numbers::pi * 5 * t));
        made.values[1].push_back(0.25 * t);
        made.values[2].push_back(2e-3);
        made.values[3].push_back(0.5);
    }
    return made;
}

StudyMetric asked(const std::string& formula) {
    StudyMetric metric;
    metric.name = "own";
    metric.place = "study.toml:3: metrics.own";
    metric.formula = formula;
    return metric;
}

struct Result {
    double value;
    std::string unit;
};

Result result(const std::string& formula) {
    const auto made = recording();
    const auto metric = read_metric(asked(formula), made.quantities);
    return {metric.between(made, 0, 2), metric.unit};
}

std::string refusal(const std::string& formula) {
    try {
        read_metric(asked(formula), recording().quantities);
    } catch (const scenarios::ScenarioError& error) {
        return error.what();
    }
    return "";
}

} // namespace

TEST_CASE("a metric computes what its formula says in the unit that follows from it") {
    struct Case {
        const char* formula;
        double value;
        const char* unit;
        double tolerance = 1e-12;
    };
    // Ten whole periods; sums over them are exact but for rounding, a few 1e-13 of 2001 terms. The last sample is one of a
    // period too many, so a mean is off by 1 / 2001 of what it is weighed with.
    constexpr double one_sample = 3.0 / 2001;
    const Case cases[] = {
        {"max(main.lift) - min(main.lift)", 0.5, "m"},
        {"max(outlet.pressure)", 4, "Pa"},
        {"mean(outlet.pressure)", 3, "Pa"},
        {"std(outlet.pressure)", std::sqrt(0.5), "Pa", one_sample},
        {"rms(outlet.pressure - '3 Pa')", std::sqrt(0.5), "Pa", one_sample},
        {"first(main.lift) + last(main.lift)", 0.5, "m"},
        {"integral(zone-1.flow)", 4e-3, "m3"},
        {"mean(rate(main.lift))", 0.25, "m s-1"},
        {"max(rate(main.lift)) * '2 s'", 0.5, "m", 1e-9},
        {"time_of_max(outlet.pressure)", 0.05, "s"},
        {"time_above(main.lift, '0.25 m')", 1, "s", 1e-9},
        {"time_below(main.lift, '250 mm')", 1, "s", 1e-9},
        {"time_of_min(abs(main.lift - '30 cm'))", 1.2, "s"},
        {"max(time)", 2, "s"},
        {"max(sqrt(outlet.pressure))", 2, "Pa0.5"},
        {"max(zone-1.flow) / sqrt('4 Pa')", 1e-3, "m3 s-1 Pa-0.5"},
        {"max(outlet.pressure * zone-1.flow)", 8e-3, "Pa m3 s-1"},
        {"mean(main.share) * 100", 50, "1"},
        {"1 + 2 * 3 ^ 2 / 6 - -1", 5, "1"},
        {"-2 ^ 2", -4, "1"},
        {"(1 + 2) * (3 - 1)", 6, "1"},
        {"2 ^ -1", 0.5, "1"},
        {"8 / 4 / 2", 1, "1"},
        {"1e-3 + 5E1 * 0.", 1e-3, "1"},
    };
    for (const auto& [formula, value, unit, tolerance] : cases) {
        CAPTURE(formula);
        const auto [found, in] = result(formula);
        CHECK(std::abs(found - value) <= tolerance);
        CHECK(in == unit);
    }
}

TEST_CASE("a wrong formula is refused in one line with the column and what is wrong") {
    struct Case {
        const char* formula;
        int column;
        const char* why;
    };
    const std::string brackets(101, '(');
    const Case cases[] = {
        {brackets.c_str(), 101, "more than 100 brackets are open"},
        {"max(main.lfit)", 5, "no signal is called main.lfit; nearest is main.lift"},
        {"main.lift", 1, "a value at every instant; make one number of it"},
        {"max(main.lift) - max(outlet.pressure)", 16, "what is in Pa cannot be taken from what is in m"},
        {"max(main.lift + 1)", 15, "what is in m cannot be added to what is a number without a unit"},
        {"time_above(main.lift, '5 bar')", 1, "compares what is in m with what is in Pa"},
        {"time_above(main.lift)", 1, "time_above takes 2 values, not 1"},
        {"max('5 bar')", 6, "max is of a signal; this is one number"},
        {"median(main.lift)", 1, "no function is called median; there are time_above"},
        {"max(main.lift", 14, "a ) is wanted"},
        {"max(main.lift) max(main.lift)", 16, "an operator, such as +, or the end is wanted"},
        {"max(main.lift) +", 17, "a value is wanted"},
        {"max()", 5, "a value is wanted"},
        {"max(main.lift - '5 furlongs')", 18, "'5 furlongs' is no quantity"},
        {"max(main.lift - '5 m)", 22, "a closing ' is wanted"},
        {"2 ^ main.lift", 5, "a whole number is wanted behind ^"},
        {".5", 1, "a value is wanted"},
        {"", 1, "a value is wanted"},
    };
    for (const auto& [formula, column, why] : cases) {
        CAPTURE(formula);
        const auto said = refusal(formula);
        CAPTURE(said);
        CHECK(said.starts_with(std::string("study.toml:3: metrics.own = \"") + formula + "\": column "
                               + std::to_string(column) + ": "));
        CHECK(said.find(why) != std::string::npos);
        CHECK(said.find('\n') == std::string::npos);
    }
}

TEST_CASE("a metric looks at its window alone and says nothing of one that was not recorded") {
    const auto made = recording();
    auto of = asked("max(main.lift)");
    of.from = 0.5;
    of.to = 1;
    const auto metric = read_metric(of, made.quantities);
    CHECK(metric.between(made, 0, 2) == doctest::Approx(0.25));
    CHECK(metric.between(made, 0.2, 2) == doctest::Approx(0.3));
    CHECK(metric.between(made, 0.2, 0.9) == doctest::Approx(0.225)); // the event ends first
    CHECK(std::isnan(metric.between(made, 1.8, 2)));
    CHECK(std::isnan(metric.between(sim::Recording{}, 0, 2)));
    CHECK(metric.meaning() == "max(main.lift), over the event, from 0.5 s on, to 1 s");
}

TEST_CASE("units come apart into exponents and together again") {
    for (const auto* unit :
         {"Pa", "m3 s-1", "m", "m2", "m3", "s", "K", "m3 s-1 Pa-0.5", "N", "m3 Pa-1", "m s-1", "Pa s-1", "1"})
        CHECK(udunits_of(exponents_of(unit)) == unit);
    CHECK(exponents_of("Hz") == exponents_of("s-1"));
    CHECK(exponents_of("N m-1") == exponents_of("Pa m"));
    CHECK_THROWS_AS(exponents_of("furlong"), std::invalid_argument);
}

TEST_CASE("a sweep's own metrics are those of the same run alone and in lanes, over events and runs") {
    const OwnFolder folder;
    const auto path = folder / "study.toml";
    std::ofstream(path) << "scenario = \"" << tests::source_folder() << R"toml(/scenarios/nursery-night.toml"
[[vary]]
key = "main.opening_control"
list = ["1/2 turn", "2 turns", "3 turns"]
[[vary]]
key = "run.duration"
list = ["5 s"]
[metrics]
swing_of_lift = "max(main.lift) - min(main.lift)"
inlet_top = { formula = "max(inlet.pressure)", over = "run" }
late = { formula = "mean(main.cover_pressure)", event = 2, from = "1 s", to = "1.5 s" }
)toml";
    const auto sweep = read_sweep(path);
    REQUIRE(sweep.lanes);
    Cases cases(sweep.study);
    std::vector<sim::CaseRows> in_lanes(sweep.study.cases());
    std::size_t next = 0;
    run_cases(sweep, cases,
              {[&]() -> std::optional<std::size_t> {
                   return next < in_lanes.size() ? std::optional(next++) : std::nullopt;
               },
               [&](std::size_t number, const sim::CaseRows& rows) {
                   in_lanes[number] = rows;
                   return true;
               },
               [] { return true; }});
    const auto swing = place_of(sweep.per_event, "swing_of_lift");
    const auto top = place_of(sweep.per_case, "inlet_top"), late = place_of(sweep.per_case, "late");
    CHECK(sweep.per_event.back().unit == "m");
    for (std::size_t number = 0; number < in_lanes.size(); ++number) {
        CAPTURE(number);
        const auto alone = run_case(sweep, cases, number, {});
        const auto outcome = simulate(sweep.file.read(cases.overrides(number)));
        const auto& signals = outcome.record.recording;
        for (std::size_t event = 0; event < 2; ++event) {
            const auto& lift = signals["main.lift"];
            // Of the 1 kHz samples from 0 to 3 s, where the demand changes, and from there to the end; both ends count.
            const auto begin = lift.begin() + (event == 0 ? 0 : 3000),
                       end = event == 0 ? lift.begin() + 3001 : lift.end();
            const auto [low, high] = std::minmax_element(begin, end);
            CHECK(alone.events[event].numbers[swing] == *high - *low); // the same computation: the same bits
            // Lanes differ by rounding, and where the valve hunts by what that makes of it: the bound of tests/tools/sweep.cpp.
            CHECK(in_lanes[number].events[event].numbers[swing]
                  == doctest::Approx(*high - *low).epsilon(1e-3));
        }
        const auto& inlet = signals["inlet.pressure"];
        CHECK(alone.self.numbers[top] == *std::ranges::max_element(inlet));
        CHECK(in_lanes[number].self.numbers[top] == doctest::Approx(alone.self.numbers[top]).epsilon(1e-3));
        const auto& cover = signals["main.cover_pressure"];
        double sum = 0;
        for (int i = 4000; i <= 4500; ++i)
            sum += cover[static_cast<std::size_t>(i)];
        CHECK(alone.self.numbers[late] == doctest::Approx(sum / 501).epsilon(1e-12));
        CHECK(in_lanes[number].self.numbers[late] == doctest::Approx(alone.self.numbers[late]).epsilon(1e-3));
    }
}
