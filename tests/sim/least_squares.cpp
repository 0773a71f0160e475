/// Least squares against closed forms.
#include "sim/least_squares.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <Eigen/LU>

#include <cmath>
#include <random>
#include <string>

using namespace needleturn;
using tests::relative;

namespace {

constexpr unsigned seed = 20; // of all that is drawn here

/// A straight line through points with normal errors, drawn.
struct Line {
    explicit Line(int points, double noise) : design(points, 2), y(points) {
        std::mt19937_64 draw(seed);
        std::normal_distribution<double> error(0, noise);
        for (int i = 0; i < points; ++i) {
            design.row(i) << 1, 0.1 * i;
            y[i] = 2 - 0.7 * design(i, 1) + error(draw);
        }
    }
    sim::LeastSquares problem() const {
        sim::LeastSquares asked;
        asked.residuals = y.size();
        asked.evaluate = [this](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
            r = design * x - y;
            if (jacobian != nullptr)
                *jacobian = design;
            return true;
        };
        return asked;
    }
    Eigen::MatrixXd design;
    Eigen::VectorXd y;
};

const Eigen::Vector2d away(10, 10);

} // namespace

TEST_CASE("a linear problem with normal priors has the posterior of the closed form") {
    // Precision A' A / s^2 + P, mean (that)^-1 (A' y / s^2 + P m): Bayes' rule for normal densities.
    const Line line(30, 0.2);
    auto problem = line.problem();
    constexpr double noise = 0.2;
    problem.noise = noise;
    problem.priors = {{1.5, 0.05}, {-1.0, 0.1}};
    const auto found = sim::least_squares(problem, away);
    REQUIRE(found.found());
    const Eigen::Vector2d mean(1.5, -1.0), precision(1 / (0.05 * 0.05), 1 / (0.1 * 0.1));
    Eigen::Matrix2d normal = line.design.transpose() * line.design / (noise * noise);
    normal.diagonal() += precision;
    const Eigen::Vector2d right =
        line.design.transpose() * line.y / (noise * noise) + precision.cwiseProduct(mean);
    const Eigen::Matrix2d covariance = normal.inverse();
    const Eigen::Vector2d posterior = covariance * right;
    for (int i = 0; i < 2; ++i) {
        CHECK(found.x[i] == relative(posterior[i], 1e-12));
        for (int k = 0; k < 2; ++k)
            CHECK(found.covariance(i, k) == relative(covariance(i, k), 1e-12));
    }
}

TEST_CASE("an unknown that nothing measures keeps its prior and without one is told") {
    const Line line(30, 0.2);
    auto problem = line.problem();
    const auto bare = problem.evaluate;
    problem.evaluate = [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
        Eigen::MatrixXd two;
        bare(x.head(2), r, jacobian != nullptr ? &two : nullptr);
        if (jacobian != nullptr)
            *jacobian << two, Eigen::VectorXd::Zero(r.size());
        return true;
    };
    const Eigen::Vector3d start(0, 0, 5);
    CHECK(sim::least_squares(problem, start).end == sim::Estimate::End::not_determined);
    problem.priors = {{}, {}, {3, 0.5}};
    const auto found = sim::least_squares(problem, start);
    REQUIRE(found.found());
    CHECK(found.x[2] == relative(3, 1e-12));
    CHECK(found.deviation(2) == relative(0.5, 1e-12));
    CHECK(found.freedom == relative(28, 1e-9)); // 30 readings, two unknowns that they determine
}

TEST_CASE("weights of Huber take outliers out of a line") {
    Line line(60, 0.05);
    for (int i = 5; i < 60; i += 12)
        line.y[i] += 4;
    auto problem = line.problem();
    const auto plain = sim::least_squares(problem, away);
    constexpr double usual = 1.345;
    problem.huber = usual;
    const auto robust = sim::least_squares(problem, away);
    REQUIRE(plain.found());
    REQUIRE(robust.found());
    // Five outliers of 4 in 60 move a mean by a third. With the weights each pulls as one of k s: 5 k s / 55 = 0.006; the
    // intercept's own deviation is 2 s / sqrt(55) = 0.013, here times three.
    CHECK(std::abs(plain.x[0] - 2) > 0.2);
    CHECK(std::abs(robust.x[0] - 2) < 0.045);
    CHECK(robust.weights.minCoeff() < 0.05);
}

TEST_CASE("residuals whose error is known take no part in the noise and weigh as known") {
    // y = x measured as 0 with unknown noise four times, and once as 3 with error 1. Readings -1, 1, -1, 1 about 0: by hand,
    // x = 3 / (1 + 4 / s^2), s^2 = sum (x -+ 1)^2 / (4 - q), q = (4 / s^2) / (4 / s^2 + 1).
    sim::LeastSquares problem;
    problem.evaluate = [](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
        r = Eigen::VectorXd{{x[0] - 1, x[0] + 1, x[0] - 1, x[0] + 1, x[0] - 3}};
        if (jacobian != nullptr)
            jacobian->setOnes();
        return true;
    };
    problem.residuals = 5;
    problem.known = 1;
    problem.priors.assign(1, {});
    problem.settled = 1e-12;
    const auto found = sim::least_squares(problem, Eigen::VectorXd::Zero(1));
    REQUIRE(found.found());
    const double each = 4 / (found.noise * found.noise), x = found.x[0];
    CHECK(x == doctest::Approx(3 / (1 + each)));
    CHECK(found.noise * found.noise == doctest::Approx((4 * x * x + 4) / (4 - each / (each + 1))));
    CHECK(found.covariance(0, 0) == doctest::Approx(1 / (each + 1)));
}

TEST_CASE(
    "a search that corrects its Jacobian ends where one that does not ends and evaluates it less often") {
    // y = a exp(-b t) + c with outliers: weights, a noise that is estimated and priors, all rounds of them.
    constexpr int points = 80;
    std::mt19937_64 draw(seed);
    std::normal_distribution<double> error(0, 0.02);
    Eigen::VectorXd t(points), y(points);
    for (int i = 0; i < points; ++i) {
        t[i] = 0.05 * i;
        y[i] = 2 * std::exp(-1.3 * t[i]) + 0.5 + error(draw) + (i % 20 == 7 ? 1.0 : 0.0);
    }
    sim::LeastSquares problem;
    problem.residuals = points;
    problem.huber = 1.345;
    problem.priors.assign(3, {1, 2});
    problem.tolerance = 1e-12;
    problem.settled = 1e-9;
    problem.evaluate = [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
        const Eigen::VectorXd decay = (-x[1] * t).array().exp();
        r = (x[0] * decay).array() + x[2] - y.array();
        if (jacobian != nullptr)
            *jacobian << decay, -x[0] * t.cwiseProduct(decay), Eigen::VectorXd::Ones(points);
        return true;
    };
    const Eigen::Vector3d start(5, 0.2, -1);
    const auto plain = sim::least_squares(problem, start);
    problem.secants = 6;
    const auto secant = sim::least_squares(problem, start);
    REQUIRE(plain.found());
    REQUIRE(secant.found());
    INFO(secant.jacobians << " Jacobians in place of " << plain.jacobians);
    CHECK(2 * secant.jacobians <= plain.jacobians);
    for (int i = 0; i < 3; ++i) {
        // Both end where the sum changes by less than 1e-12: x by less than the root of it.
        CHECK(secant.x[i] == relative(plain.x[i], 1e-6));
        CHECK(secant.deviation(i) == relative(plain.deviation(i), 1e-6)); // so of a Jacobian of its own
    }
}

TEST_CASE("a search says why it found nothing") {
    const Line line(1, 0.1);
    CHECK(sim::least_squares(line.problem(), away).end == sim::Estimate::End::too_few_residuals);
    const Line enough(5, 0.1);
    auto problem = enough.problem();
    problem.evaluate = [](const auto&, auto&, auto*) { return false; };
    CHECK(sim::least_squares(problem, away).end == sim::Estimate::End::not_at_start);
    for (const auto end : {sim::Estimate::End::too_few_residuals, sim::Estimate::End::not_at_start,
                           sim::Estimate::End::too_long, sim::Estimate::End::not_determined})
        CHECK(std::string(sim::reason(end)).size() > 10);
}

TEST_CASE("white noise passes the portmanteau test and a slow drift does not") {
    std::mt19937_64 draw(seed);
    std::normal_distribution<double> error(0, 1);
    Eigen::VectorXd noise(500);
    for (auto& value : noise)
        value = error(draw);
    CHECK(sim::whiteness(noise, 10).probability > 0.01);
    for (Eigen::Index i = 0; i < noise.size(); ++i)
        noise[i] += std::sin(0.03 * static_cast<double>(i));
    CHECK(sim::whiteness(noise, 10).probability < 1e-6);
}

TEST_CASE("ranges are as wide as the tables of Student say") {
    // 90 % two-sided: 1.812 with 10 degrees, 1.645 with many (table of the t distribution; from memory).
    CHECK(sim::range_factor(0.9, 10) == doctest::Approx(1.812).epsilon(3e-4));
    CHECK(sim::range_factor(0.9, 1e9) == doctest::Approx(1.645).epsilon(3e-4));
}
