/// Fits to traces that the model has made, whose truth is known.
///
/// NEEDLETURN_FITS=200 fits so many and counts how many ranges hold the truth; 6 without it.
#include "tools/studies/fit.h"
#include "sim/share.h"
#include "tests/places.h"
#include "tools/commands/fit_told.h"
#include "tools/studies/gauge.h"
#include "tools/studies/traced_run.h"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <random>
#include <string>
#include <vector>

using namespace needleturn;
using scenarios::Dimension;
using scenarios::Logged;

namespace {

const std::filesystem::path source{tests::source_folder()};

scenarios::ScenarioFile dairy() {
    return scenarios::ScenarioFile(source / "scenarios/dairy-logged.toml",
                                   std::vector{source / "scenarios/hardware"}, {});
}

std::vector<Unknown> four() {
    return unknowns_of(dairy().read(),
                       {"main.air_in_cover=0..100 mL", "main.override.pilot.capacity=0.3..0.8 Cv",
                        "main.override.main_valve.stem_damping=500..2000 N s/m",
                        "main.override.speed_control.capacity=0.5..1 Cv"});
}

/// What a gauge logs of the scenario with the unknowns at z: 20 readings a second.
scenarios::Trace logged(const std::vector<Unknown>& unknowns, const Eigen::VectorXd& z, double offset,
                        double noise, std::mt19937_64& draw) {
    TracedQuestion question{dairy(), {}, {Logged::outlet}, 0.005, 2401, 1};
    for (const auto& unknown : unknowns)
        if (!unknown.of_gauge())
            question.unknowns.push_back(unknown);
    const auto run = run_traced(question, z, false);
    scenarios::Trace trace;
    for (int i = 0; i <= 240; ++i)
        trace.time.push_back(0.05 * i);
    const auto seen = seen_by({0, 0, offset}, run.values.col(0), question.interval, trace.time);
    std::normal_distribution<double> error(0, noise);
    trace.channels.push_back({Logged::outlet, "outlet", {}});
    for (const double pressure : seen)
        trace.channels[0].values.push_back(pressure + error(draw));
    return trace;
}

/// To a trace that the model has made, on the same grid.
FitQuestion question_of(const scenarios::Trace& trace, const std::vector<Unknown>& unknowns) {
    return {.file = dairy(),
            .trace = trace,
            .unknowns = unknowns,
            .starts = 1,
            .exact_grid = true,
            .threads = 1,
            .progress = {}};
}

} // namespace

TEST_CASE("an unknown is as likely anywhere in its range by the logarithm") {
    const Unknown capacity{"k", Dimension::ratio, 0.5, 2, true};
    CHECK(capacity.value(0) == doctest::Approx(1));
    // Half of a normal density lies within 0.67449 deviations (table of the normal distribution).
    CHECK(std::log(capacity.value(0.67449) / capacity.value(-0.67449))
          == doctest::Approx(std::log(2)).epsilon(1e-5));
    CHECK(capacity.slope(0.3) == doctest::Approx((capacity.value(0.3001) - capacity.value(0.2999)) / 2e-4));
    const Unknown offset{"gauge.offset", Dimension::pressure, -1e4, 1e4};
    CHECK(offset.value(0) == doctest::Approx(0));
}

TEST_CASE("what was found is told with three digits as a person writes them") {
    const auto told = [](double ratio) {
        return three_digits(ratio, Dimension::ratio, scenarios::UnitSystem::si);
    };
    CHECK(told(0) == "0.00");
    CHECK(told(0.0123449) == "0.0123");
    CHECK(told(-0.99951) == "-1.00");
    CHECK(told(175.2) == "175");
    CHECK(told(1864.9) == "1860");
    CHECK(told(99960) == "100000");
}

TEST_CASE("the slopes of a traced run are those of whole runs subtracted" * doctest::test_suite("long")) {
    auto unknowns = four();
    std::erase_if(unknowns, [](const auto& unknown) { return unknown.of_gauge(); });
    unknowns.push_back({"demand.steps.1.to", Dimension::flow, 0.012, 0.017}); // a drive, through its corner
    unknowns.push_back({"downstream.storage", Dimension::storage, 0.5e-9, 2e-9});
    const TracedQuestion question{
        dairy().with({{"run.tolerance=1e-8"}}), unknowns, {Logged::outlet, Logged::cover}, 0.05, 161, 2};
    const Eigen::VectorXd z = Eigen::VectorXd::Constant(static_cast<Eigen::Index>(unknowns.size()), 0.2);
    const auto run = run_traced(question, z, true);
    for (std::size_t k = 0; k < unknowns.size(); ++k) {
        CAPTURE(unknowns[k].key);
        CHECK_FALSE(run.by_differences[k]);
        constexpr double step = 3e-3;
        const Eigen::VectorXd along = Eigen::VectorXd::Unit(z.size(), static_cast<Eigen::Index>(k)) * step;
        const auto above = run_traced(question, z + along, false),
                   below = run_traced(question, z - along, false);
        const Eigen::MatrixXd difference = (above.values - below.values) / (2 * step);
        // Of second order in the step, with corners of contacts and checks passed at other instants; and the errors of the runs.
        CHECK((run.slopes[k] - difference).norm() < 5e-3 * difference.norm());
    }
}

TEST_CASE("a key that moves an instant is carried by differences and says so") {
    const TracedQuestion question{
        dairy(), {{"demand.steps.1.at", Dimension::time, 1.5, 2.5}}, {Logged::outlet}, 0.05, 81, 1};
    const auto run = run_traced(question, Eigen::VectorXd::Zero(1), true);
    CHECK(run.by_differences[0]);
    CHECK(run.slopes[0].cwiseAbs().maxCoeff()
          > 1e3); // Pa per deviation: a step a third of a second later is seen
}

TEST_CASE("a gauge lags as a first-order filter does and its clock and offset are what they are called") {
    Eigen::VectorXd step = Eigen::VectorXd::Ones(1001);
    step[0] = 0;
    const auto seen = seen_by({0.5, 0, 0}, step, 0.01, {1.0, 2.0});
    // 1 - exp(-t / lag) after a step; here a ramp of one interval, half an interval late on the average.
    CHECK(seen[0] == doctest::Approx(1 - std::exp(-0.995 / 0.5)).epsilon(1e-3));
    CHECK(seen[1] == doctest::Approx(1 - std::exp(-1.995 / 0.5)).epsilon(1e-3));
    const Eigen::VectorXd ramp = Eigen::VectorXd::LinSpaced(101, 0, 1);
    CHECK(seen_by({0, 0.2, 3}, ramp, 0.01, {0.5})[0] == doctest::Approx(3.3));
    CHECK(seen_by({0, 0.2, 3, 1.02}, ramp, 0.01, {0.5})[0] == doctest::Approx(3.306));
    std::mt19937_64 draw(5);
    std::normal_distribution<double> error(7, 2);
    std::vector<double> readings(4000);
    for (auto& reading : readings)
        reading = error(draw);
    CHECK(flicker_of(readings)
          == doctest::Approx(2).epsilon(0.06)); // the median of 4000 is known to some 2 %, times three
}

TEST_CASE("fits hold the truth in nine of ten ranges" * doctest::test_suite("long")) {
    const char* asked = std::getenv("NEEDLETURN_FITS");
    const int fits = asked != nullptr ? std::atoi(asked) : 6;
    constexpr unsigned seed = 3;
    std::mt19937_64 draw(seed);
    std::normal_distribution<double> normal(0, 1);
    const auto unknowns = four();
    int held = 0, ranges = 0, explained = 0;
    for (int i = 0; i < fits; ++i) {
        Eigen::VectorXd z(4);
        for (auto& at : z)
            at = normal(draw);
        const double noise = 2e3, offset = unknowns.back().value(normal(draw));
        const auto fitted = fit(question_of(logged(unknowns, z, offset, noise, draw), unknowns));
        explained += fitted.explained() ? 1 : 0;
        for (std::size_t k = 0; k < 4; ++k) {
            const double truth = unknowns[k].value(z[static_cast<Eigen::Index>(k)]);
            held += fitted.values[k].low <= truth && truth <= fitted.values[k].high ? 1 : 0;
            ++ranges;
        }
        CHECK(fitted.told());
    }
    const double share = static_cast<double>(held) / ranges;
    // As if ranges of one fit were independent; they are not quite.
    const auto bounds =
        sim::share_interval(static_cast<std::size_t>(held), static_cast<std::size_t>(ranges), 0.9);
    MESSAGE("seed " << seed << ": " << held << " of " << ranges << " ranges hold the truth, "
                    << 100 * bounds.low << " to " << 100 * bounds.high << " % (90 % interval); explained "
                    << explained << " of " << fits);
    // Of 24 ranges with a chance of 0.9 each, 16 or fewer hold with a chance of 4e-3; of 800, 85 to 95 % are asked for.
    CHECK(share > (fits >= 200 ? 0.85 : 0.68));
    CHECK(share < (fits >= 200 ? 0.95 : 1.01));
    CHECK(explained * 10 >= fits * 8);
}

TEST_CASE("a trace of a valve that the unknowns cannot make is not explained" * doctest::test_suite("long")) {
    std::mt19937_64 draw(4);
    auto all = four();
    const auto trace = logged(all, Eigen::Vector4d(1, 1, 0, 0), 0, 1e3, draw);
    const auto only_damping =
        unknowns_of(dairy().read(), {"main.override.main_valve.stem_damping=500..2000 N s/m"});
    const auto fitted = fit(question_of(trace, only_damping));
    CHECK_FALSE(fitted.explained());
    CHECK(std::abs(fitted.channels[0].worst) > 2e3);
}

TEST_CASE("a gain of the gauge and the set pressure cannot be told apart at rest"
          * doctest::test_suite("long")) {
    std::mt19937_64 draw(4);
    const auto trace = logged(four(), Eigen::Vector4d::Zero(), 0, 1e3, draw);
    const auto fitted = fit(question_of(
        trace, unknowns_of(dairy().read(), {"gauge.gain=0.97..1.03", "main.set_pressure=4.3..4.7 bar",
                                            "gauge.offset=-1..1 mbar"})));
    REQUIRE(fitted.values.size() == 3);
    REQUIRE(fitted.alike.size() == 1);
    const auto key = [&](std::size_t k) { return fitted.values[k].unknown.key; };
    CHECK(key(fitted.alike[0].first) == "main.set_pressure");
    CHECK(key(fitted.alike[0].second) == "gauge.gain of outlet");
    // p gain = const: a larger set pressure goes with a smaller gain.
    CHECK(fitted.alike[0].correlation < -0.9);
    for (const auto& value : fitted.values) { // the truth: 4.5 bar, and a gauge without fault
        const double truth = value.unknown.key == "main.set_pressure"      ? 4.5e5
                             : value.unknown.key == "gauge.gain of outlet" ? 1
                                                                           : 0;
        CAPTURE(value.unknown.key);
        CHECK(value.low <= truth);
        CHECK(truth <= value.high);
    }
}

TEST_CASE("a trace at rest tells nothing of the damping and says so") {
    std::mt19937_64 draw(4);
    auto trace = logged(four(), Eigen::Vector4d::Zero(), 0, 1e3, draw);
    while (trace.time.back() > 1.9) { // before anything moves
        trace.time.pop_back();
        trace.channels[0].values.pop_back();
    }
    const auto fitted = fit(question_of(
        trace, unknowns_of(dairy().read(), {"main.override.main_valve.stem_damping=500..2000 N s/m"})));
    CHECK_FALSE(fitted.told());
}
