/// Partial rank correlation and the interval of a share, against closed forms and published figures.
#include "sim/rank_correlation.h"
#include "sim/sampling.h"
#include "sim/share.h"
#include "tests/relative.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

using namespace needleturn::sim;
using needleturn::tests::relative;

TEST_CASE("equal values share the mean of their ranks and infinity is the last") {
    const double infinity = std::numeric_limits<double>::infinity();
    CHECK(ranks(std::array{3.0, 1.0, 3.0, infinity, -2.0}) == std::vector<double>{3.5, 2, 3.5, 5, 1});
    CHECK(ranks(std::array{7.0, 7.0}) == std::vector<double>{1.5, 1.5});
}

TEST_CASE("the partial rank correlation of two inputs is that of the closed form") {
    // r_1y.2 = (r_1y - r_2y r_12) / sqrt((1 - r_2y^2) (1 - r_12^2)): the definition for one other input.
    const std::vector<std::vector<double>> inputs{{1, 2, 3, 4, 5, 6, 7, 8}, {2, 1, 4, 3, 8, 5, 7, 6}};
    const std::vector<double> result{10, 30, 20, 60, 40, 50, 80, 70};
    // Spearman's 1 - 6 sum d^2 / (n (n^2 - 1)) without ties.
    const auto spearman = [](const std::vector<double>& a, const std::vector<double>& b) {
        const auto of_a = ranks(a), of_b = ranks(b);
        double sum = 0;
        for (std::size_t i = 0; i < of_a.size(); ++i)
            sum += (of_a[i] - of_b[i]) * (of_a[i] - of_b[i]);
        const auto n = static_cast<double>(a.size());
        return 1 - 6 * sum / (n * (n * n - 1));
    };
    const double r1 = spearman(inputs[0], result), r2 = spearman(inputs[1], result),
                 r12 = spearman(inputs[0], inputs[1]);
    const auto partial = partial_rank_correlations(inputs, result);
    const double rounding = 1e-13; // of the inverse of a matrix whose condition is about ten
    CHECK(partial[0] == relative((r1 - r2 * r12) / std::sqrt((1 - r2 * r2) * (1 - r12 * r12)), rounding));
    CHECK(partial[1] == relative((r2 - r1 * r12) / std::sqrt((1 - r1 * r1) * (1 - r12 * r12)), rounding));
}

TEST_CASE("of a sum of inputs those with a weight stand out in their order and the others do not") {
    constexpr std::size_t rows = 200, keys = 6;
    const LatinHypercube plan(rows, 3);
    std::vector<std::vector<double>> inputs(keys, std::vector<double>(rows));
    std::vector<double> result(rows);
    const std::array<double, keys> weight{0, 4, 0, -2, 1, 0};
    for (std::size_t i = 0; i < rows; ++i) {
        for (std::size_t j = 0; j < keys; ++j) {
            inputs[j][i] = plan(i, j);
            result[i] += weight.at(j) * inputs[j][i];
        }
        result[i] += plan(i, keys) + std::exp(3 * result[i]); // by rank the same, but for some noise
    }
    const auto partial = partial_rank_correlations(inputs, result);
    const double least = least_significant(rows, keys, 0.1);
    CHECK(partial[1] > -partial[3]);
    CHECK(-partial[3] > partial[4]);
    CHECK(partial[4] > least);
    for (const std::size_t idle : {0U, 2U, 5U})
        CHECK(std::abs(partial[idle]) < least);
}

TEST_CASE("a result that rises with one input alone is moved by that and by no other") {
    const std::vector<double> one{3, 1, 4, 1.5, 9, 2.6, 5}, other{2, 7, 1, 8, 2.8, 1.8, 3};
    std::vector<double> rising, falling;
    for (const double x : one) {
        rising.push_back(std::exp(x));
        falling.push_back(-x * x);
    }
    CHECK(partial_rank_correlations(std::vector{other, one}, rising) == std::vector{0.0, 1.0});
    CHECK(partial_rank_correlations(std::vector{other, one}, falling) == std::vector{0.0, -1.0});
}

TEST_CASE("what cannot be ranked is not ranked") {
    const std::vector<std::vector<double>> inputs{{1, 2, 3, 4, 5, 6}, {2, 4, 1, 3, 6, 5}};
    CHECK(std::isnan(partial_rank_correlations(inputs, std::vector<double>(6, 7.0))[0])); // does not vary
    const std::vector<std::vector<double>> few{{1, 2, 3, 4}, {2, 4, 1, 3}};
    CHECK(std::isnan(partial_rank_correlations(few, std::vector<double>{1, 2, 3, 4})[0]));
    const std::vector<std::vector<double>> twice{{1, 2, 3, 4, 5, 6}, {2, 4, 6, 8, 10, 12}}; // one by rank
    CHECK(std::isnan(partial_rank_correlations(twice, std::vector<double>{1, 3, 2, 4, 6, 5})[0]));
}

TEST_CASE("the least significant correlation is that of tables of Student's t") {
    // One input and 12 rows: 10 degrees of freedom, t = 2.228 at 5 % either side (Fisher and Yates, table III; from memory),
    // so r = t / sqrt(10 + t^2) = 0.576, which is also the critical r of their table VII for 10 degrees of freedom.
    CHECK(least_significant(12, 1, 0.05) == doctest::Approx(0.576).epsilon(0.0005 / 0.576)); // three figures
    // Of ten inputs each must stand a tenth of the chance: 22 rows leave 11 degrees of freedom, t(0.5 %) = 3.497 either side.
    CHECK(least_significant(22, 10, 0.05)
          == doctest::Approx(3.497 / std::sqrt(11 + 3.497 * 3.497)).epsilon(2e-4));
    CHECK(std::isinf(least_significant(11, 10, 0.05)));
}

TEST_CASE("the interval of a share is that of Clopper and Pearson as published") {
    // R. G. Newcombe, Statistics in Medicine 17:857 (1998), table I, method 5 ("exact"), 95 %, four decimals; from memory.
    struct Published {
        std::size_t count, all;
        double low, high;
    };
    for (const auto& row : {Published{81, 263, 0.2527, 0.3676},
                            {15, 148, 0.0578, 0.1617},
                            {0, 20, 0, 0.1684},
                            {1, 29, 0.0009, 0.1776}}) {
        CAPTURE(row.count);
        const auto interval = share_interval(row.count, row.all, 0.95);
        CHECK(std::abs(interval.low - row.low) <= 0.5e-4); // half of the last decimal
        CHECK(std::abs(interval.high - row.high) <= 0.5e-4);
    }
    // None of n: 1 - (a/2)^(1/n), in closed form; and all of n is the mirror image.
    CHECK(share_interval(0, 100, 0.9).high == relative(1 - std::pow(0.05, 0.01), 1e-12));
    CHECK(share_interval(100, 100, 0.9).low == relative(std::pow(0.05, 0.01), 1e-12));
    CHECK(share_interval(100, 100, 0.9).high == 1);
}

TEST_CASE("the sign test of paired shares is the binomial sum") {
    CHECK(sign_test(1, 9) == relative(2 * (1 + 10) / 1024.0, 1e-13)); // (1 + 10) of 2^10, either way
    CHECK(sign_test(9, 1) == sign_test(1, 9));
    CHECK(sign_test(0, 5) == relative(2 / 32.0, 1e-13));
    CHECK(sign_test(4, 4) == 1);
    CHECK(sign_test(0, 0) == 1);
}

TEST_CASE("the draw that bounds a quantile is that of Wilks") {
    // 59 is the least number of draws whose largest bounds 95 % with 95 % (Wilks 1941): 0.95^59 = 0.0485, 0.95^58 = 0.0510.
    CHECK(draw_above(58, 0.95, 0.95) == 0);
    CHECK(draw_above(59, 0.95, 0.95) == 59);
    // The second largest bounds it from 93 draws on (H. N. Guba, M. Makai, L. Pal, Reliability Engineering and System Safety 80:217,
    // 2003, table 1; from memory): 0.95^93 + 93 0.05 0.95^92 = 0.0499.
    CHECK(draw_above(92, 0.95, 0.95) == 92);
    CHECK(draw_above(93, 0.95, 0.95) == 92);
}
