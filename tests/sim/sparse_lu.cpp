#include "sim/sparse_lu.h"

#include <Eigen/Dense>
#include <doctest/doctest.h>

#include <limits>
#include <random>
#include <stdexcept>
#include <vector>

namespace {

using needleturn::sim::SparseLu;
using Entries = std::vector<SparseLu::Entry>;

Entries arrow(std::size_t n) {
    Entries entries;
    for (std::size_t i = 1; i < n; ++i) {
        entries.emplace_back(0, i);
        entries.emplace_back(i, 0);
    }
    return entries;
}

Entries tridiagonal(std::size_t n) {
    Entries entries;
    for (std::size_t i = 1; i < n; ++i) {
        entries.emplace_back(i - 1, i);
        entries.emplace_back(i, i - 1);
    }
    return entries;
}

Entries scattered(std::size_t n, double share, std::mt19937& random) {
    std::bernoulli_distribution present(share);
    Entries entries;
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j)
            if (present(random))
                entries.emplace_back(i, j);
    return entries;
}

/// Fills the pattern with random numbers and a dominant diagonal; compares the solution with Eigen's pivoted
/// LU.
void check_against_dense(std::size_t n, const Entries& entries, std::mt19937& random) {
    const SparseLu lu(n, entries);
    std::uniform_real_distribution<double> number(-1, 1);
    const auto size = static_cast<Eigen::Index>(n);
    Eigen::MatrixXd dense = Eigen::MatrixXd::Zero(size, size);
    std::vector<double> a(lu.entries(), 0.0);
    const auto set = [&](std::size_t i, std::size_t j, double value) {
        a[lu.position(i, j)] = value;
        dense(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = value;
    };
    for (const auto& [i, j] : entries)
        set(i, j, number(random));
    for (std::size_t i = 0; i < n; ++i)
        set(i, i, static_cast<double>(n) * (number(random) > 0 ? 1.5 : -1.5));
    const Eigen::VectorXd b = Eigen::VectorXd::NullaryExpr(size, [&] { return number(random); });
    Eigen::VectorXd x = b;
    REQUIRE(lu.factor(a.data()));
    lu.solve(a.data(), x.data());
    const Eigen::VectorXd reference = dense.partialPivLu().solve(b);
    CHECK((x - reference).norm() < 1e-14 * static_cast<double>(n) * reference.norm()); // dominant: no growth
}

} // namespace

TEST_CASE("the planned LU solves what Eigen's dense LU solves") {
    const auto seed = std::random_device{}();
    INFO("seed ", seed);
    std::mt19937 random(seed);
    for (const std::size_t n : {1u, 2u, 3u, 7u, 16u, 40u}) {
        CAPTURE(n);
        check_against_dense(n, {}, random);
        check_against_dense(n, arrow(n), random);
        check_against_dense(n, tridiagonal(n), random);
        for (const double share : {0.05, 0.2, 0.6, 1.0})
            check_against_dense(n, scattered(n, share, random), random);
    }
}

TEST_CASE("an arrow is eliminated without fill") {
    for (const std::size_t n : {2u, 5u, 30u})
        CHECK(SparseLu(n, arrow(n)).entries() == 3 * n - 2);
}

TEST_CASE("a chain costs no more fill than eliminating every second cell at a time") {
    // That halves the chain with two new entries per cell removed, so n in all rows but the ends: at most 5 n.
    for (const std::size_t n : {2u, 5u, 30u, 300u})
        CHECK(SparseLu(n, tridiagonal(n)).entries() < 5 * n);
}

TEST_CASE("repeated entries of a pattern count once") {
    CHECK(SparseLu(2, {{0, 1}, {0, 1}, {1, 1}}).entries() == 3);
}

TEST_CASE("a pivot that is zero or not a number is reported") {
    const SparseLu one(1, {});
    std::vector<double> a{0.0};
    CHECK_FALSE(one.factor(a.data()));
    a = {std::numeric_limits<double>::quiet_NaN()};
    CHECK_FALSE(one.factor(a.data()));

    const SparseLu two(2, {{0, 1}, {1, 0}});
    a.assign(two.entries(), 2.0); // both rows alike: the second pivot vanishes
    CHECK_FALSE(two.factor(a.data()));
}

TEST_CASE("an entry outside the matrix or outside the pattern is refused") {
    CHECK_THROWS_AS(SparseLu(2, {{0, 2}}), std::out_of_range);
    CHECK_THROWS_AS(SparseLu(2, {}).position(0, 1), std::out_of_range);
}
