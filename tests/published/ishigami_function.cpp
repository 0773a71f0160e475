/// Sobol indices of the Ishigami function: T. Ishigami and T. Homma, "An importance quantification technique in
/// uncertainty analysis for computer models", ISUMA '90, with a = 7, b = 0.1. The variances below are its closed form
/// (A. Saltelli et al., "Global Sensitivity Analysis: The Primer", 2008; from memory, derived again by hand).
#include "sim/sampling.h"
#include "sim/sobol_indices.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <vector>

using namespace needleturn::sim;

TEST_CASE("Sobol indices of the Ishigami function are found within their sampling error") {
    constexpr double a = 7, b = 0.1, pi = std::numbers::pi;
    const auto f = [&](const double* u) {
        const auto x = [&](int i) { return pi * (2 * u[i] - 1); };
        return std::sin(x(0)) + a * std::pow(std::sin(x(1)), 2) + b * std::pow(x(2), 4) * std::sin(x(0));
    };
    constexpr std::size_t rows = 8192, inputs = 3;
    ScrambledSobol plan(2 * inputs, 11);
    std::vector<double> of_a, of_b;
    std::vector<std::vector<double>> of_ab(inputs);
    std::vector<double> point(2 * inputs);
    for (std::size_t k = 0; k < rows; ++k) {
        plan(k, point);
        of_a.push_back(f(point.data()));
        of_b.push_back(f(point.data() + inputs));
        for (std::size_t i = 0; i < inputs; ++i) {
            auto mixed = point;
            mixed[i] = point[inputs + i];
            of_ab[i].push_back(f(mixed.data()));
        }
    }
    const auto found = sobol_indices(of_a, of_b, of_ab);

    const double v1 = 0.5 * std::pow(1 + b * std::pow(pi, 4) / 5, 2);
    const double v2 = a * a / 8;
    const double v13 = b * b * std::pow(pi, 8) * (1.0 / 18 - 1.0 / 50);
    const double v = v1 + v2 + v13;
    const double alone[] = {v1 / v, v2 / v, 0};
    const double total[] = {(v1 + v13) / v, v2 / v, v13 / v};
    CHECK(alone[0] == doctest::Approx(0.3139).epsilon(1e-3)); // the published figures
    CHECK(alone[1] == doctest::Approx(0.4424).epsilon(1e-3));
    CHECK(total[2] == doctest::Approx(0.2437).epsilon(1e-3));
    for (std::size_t i = 0; i < inputs; ++i) {
        // Three standard errors of plain Monte Carlo; scrambled Sobol points are better than that.
        CHECK(std::abs(found[i].alone - alone[i]) < 3 * found[i].alone_error);
        CHECK(std::abs(found[i].total - total[i]) < 3 * found[i].total_error);
        CHECK(found[i].alone_error < 0.03);
        CHECK(found[i].total_error < 0.03);
    }
}
