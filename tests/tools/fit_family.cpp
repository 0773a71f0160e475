/// The valves that a fit allows before and after: how they are drawn, and that their verdict is that of single runs.
#include "tools/studies/fit_family.h"

#include "sim/sampling.h"
#include "tests/places.h"
#include "tools/studies/simulate.h"

#include <boost/math/distributions/normal.hpp>
#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <vector>

using namespace needleturn;
using scenarios::Dimension;

namespace {

const std::filesystem::path source{tests::source_folder()};

/// A fit of two values and the offset of a gauge.
Fitted fitted_to(const Eigen::Vector3d& x, const Eigen::Matrix3d& covariance) {
    Fitted fitted;
    fitted.values.resize(3);
    fitted.values[0].unknown = {"main.air_in_cover", Dimension::volume, 0, 1e-4};
    fitted.values[1].unknown = {"main.override.pilot.capacity", Dimension::capacity, 1e-8, 4e-8, true};
    fitted.values[2].unknown = {"gauge.offset of outlet", Dimension::pressure, -1e4, 1e4};
    fitted.estimate.x = x;
    fitted.estimate.covariance = covariance;
    return fitted;
}

scenarios::ScenarioFile dairy() {
    return scenarios::ScenarioFile(source / "scenarios/dairy-logged.toml",
                                   std::vector{source / "scenarios/hardware"}, {});
}

} // namespace

TEST_CASE("valves after a fit lie as its estimate and covariance say") {
    Eigen::Matrix3d covariance;
    covariance << 0.04, -0.057, 0, -0.057, 0.09, 0, 0, 0, 0.5;
    constexpr std::size_t valves = 4000;
    const auto places = drawn_after(fitted_to({0.5, -1, 0}, covariance), valves, 1);
    REQUIRE(places.size() == valves);
    Eigen::MatrixX2d z(valves, 2);
    for (std::size_t i = 0; i < valves; ++i) {
        REQUIRE(places[i].size() == 2); // a gauge is no part of a valve
        for (std::size_t k = 0; k < 2; ++k) {
            REQUIRE(places[i][k] > 0);
            REQUIRE(places[i][k] < 1);
            z(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(k)) =
                boost::math::quantile(boost::math::normal(), places[i][k]);
        }
    }
    const Eigen::RowVector2d mean = z.colwise().mean();
    const Eigen::MatrixX2d off = z.rowwise() - mean;
    const Eigen::Matrix2d spread = off.transpose() * off / (valves - 1.0);
    // Of 4000 draws a mean is known to 0.3 / sqrt(4000) = 0.005, a variance to sqrt(2 / 4000) = 2.2 %; three times that.
    CHECK(std::abs(mean[0] - 0.5) < 0.015);
    CHECK(std::abs(mean[1] + 1) < 0.015);
    CHECK((spread - covariance.topLeftCorner<2, 2>()).cwiseAbs().maxCoeff() < 0.07 * 0.09);
}

TEST_CASE("valves after a fit that told nothing are those before it") {
    constexpr std::size_t valves = 50;
    const auto places =
        drawn_after(fitted_to(Eigen::Vector3d::Zero(), Eigen::Matrix3d::Identity()), valves, 7);
    const sim::LatinHypercube hypercube(valves, 7);
    for (std::size_t i = 0; i < valves; ++i)
        for (std::size_t k = 0; k < 2; ++k)
            CHECK(places[i][k] == doctest::Approx(hypercube(i, k)).epsilon(1e-12));
}

TEST_CASE("valves after a fit without doubt have the verdict of the values found") {
    // 30 mL is 0.3 of the way: -0.5244 deviations (table of the normal distribution).
    constexpr double sure = 1e-12;
    auto fitted = fitted_to({-0.5244, 0, 0}, sure * Eigen::Matrix3d::Identity());
    FitFamilyQuestion question{.file = dairy(), .scenario = "dairy-logged.toml", .valves = 10, .threads = 2};
    for (const double z : {-3.0, 1.0}) { // a pilot that passes little, and one that passes much
        CAPTURE(z);
        fitted.estimate.x[1] = z;
        const auto families = fit_families(question, fitted);
        const auto& after = families.after;
        const auto found = question.file.read(std::vector{fitted.values[0].unknown.override_at(-0.5244),
                                                          fitted.values[1].unknown.override_at(z)});
        const auto alone = simulate(found);
        const bool breaks = std::ranges::any_of(alone.verdict, &EventVerdict::breaks);
        CHECK(after.valves == 10);
        CHECK(after.kept == (alone.passed ? 10 : 0));
        CHECK(after.broken == (breaks ? 10 : 0));
        CHECK(families.before.kept + families.before.broken + families.before.undecided
                  + families.before.failed
              == 10);
    }
}

TEST_CASE("a range whose end is no value of its key is refused before anything is fitted") {
    const FitFamilyQuestion question{.file = dairy(), .scenario = "dairy-logged.toml"};
    const std::vector<Unknown> unknowns{{"supply.pressure", Dimension::pressure, -1e6, 8e5}};
    CHECK_THROWS_WITH_AS(check_family(question, unknowns), doctest::Contains("supply.pressure"),
                         scenarios::ScenarioError);
}
