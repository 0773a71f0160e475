/// Packs against the standard library, lane by lane.
#include "sim/pack.h"
#include "sim/dual.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <random>
#include <vector>

using needleturn::sim::Dual;
using needleturn::sim::Pack;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double ulp = std::numeric_limits<double>::epsilon();

bool same(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }

template <std::size_t W> Pack<W> filled(const std::vector<double>& from) {
    Pack<W> pack;
    for (std::size_t i = 0; i < W; ++i)
        pack.set(i, from[i]);
    return pack;
}

/// Largest difference of `of` from `exact`, relative to exact, over random arguments.
template <class Argument, class Of, class Exact>
double worst(const Argument& argument, const Of& of, const Exact& exact) {
    std::mt19937 random(5);
    double worst = 0;
    for (int n = 0; n < 20000; ++n) {
        std::vector<double> x(8);
        for (auto& value : x)
            value = argument(random);
        const auto result = of(filled<8>(x));
        for (std::size_t i = 0; i < 8; ++i)
            worst = std::max(worst, std::abs(result[i] / exact(x[i]) - 1));
    }
    return worst;
}

} // namespace

TEST_CASE_TEMPLATE("arithmetic, roots and choices of a pack are those of its lanes, to the bit", P, Pack<2>,
                   Pack<4>, Pack<8>) {
    constexpr std::size_t width = sizeof(P) / sizeof(double);
    const std::vector<double> a{1.5, -2.25, 0, 1e300, 3, -0.1, 7, 2},
        b{3, 0.5, -1, 1e-300, 3, -0.1, 0, infinity};
    const auto p = filled<width>(a), q = filled<width>(b);
    for (std::size_t i = 0; i < width; ++i) {
        CAPTURE(i);
        CHECK(same((p + q)[i], a[i] + b[i]));
        CHECK(same((p - q)[i], a[i] - b[i]));
        CHECK(same((p * q)[i], a[i] * b[i]));
        CHECK(same((p / q)[i], a[i] / b[i]));
        CHECK(same((2.0 - p)[i], 2.0 - a[i]));
        CHECK(same(sqrt(p)[i], std::sqrt(a[i])));
        CHECK(same(abs(p)[i], std::abs(a[i])));
        CHECK(same(max(p, q)[i], std::max(a[i], b[i])));
        CHECK(same(min(p, 0.5)[i], std::min(a[i], 0.5)));
        CHECK(same(select(p < q, p, q)[i], a[i] < b[i] ? a[i] : b[i]));
        CHECK((p == q)[i] == (a[i] == b[i]));
        CHECK(isfinite(p / q)[i] == std::isfinite(a[i] / b[i]));
        CHECK(same(either(
                       p > q, [&] { return P(p + 1.0); }, [&] { return P(q); })[i],
                   a[i] > b[i] ? a[i] + 1 : b[i]));
    }
}

TEST_CASE(
    "exp and log of a pack are within 1 unit in the last place, pow within 2 and its argument's share") {
    std::uniform_real_distribution exponent(-700.0, 700.0), small(-1.0, 1.0), magnitude(-300.0, 300.0);
    const auto power_of_ten = [&](auto& random) { return std::pow(10, magnitude(random)); };
    // The standard library's own error, at most 1 unit, is in the difference too.
    CHECK(worst([&](auto& random) { return exponent(random); }, [](const auto& x) { return exp(x); },
                [](double x) { return std::exp(x); })
          < 2 * ulp);
    CHECK(worst([&](auto& random) { return small(random); }, [](const auto& x) { return exp(x); },
                [](double x) { return std::exp(x); })
          < 2 * ulp);
    CHECK(worst(
              power_of_ten, [](const auto& x) { return log(x); }, [](double x) { return std::log(x); })
          < 2 * ulp);
    CHECK(worst([&](auto& random) { return std::exp(0.1 * small(random)); },
                [](const auto& x) { return log(x); }, [](double x) { return std::log(x); })
          < 2 * ulp);
    for (const double power : {0.9, 1 / 12.0, 1.8, -0.2, 1 / 1.2}) {
        CAPTURE(power);
        const double largest_logarithm = 30 * std::log(10.0);
        CHECK(worst([&](auto& random) { return std::pow(10, magnitude(random) / 10); },
                    [&](const auto& x) { return pow(x, Pack<8>(power)); },
                    [&](double x) { return std::pow(x, power); })
              < 2 * ulp * (1 + std::abs(power) * largest_logarithm));
    }
}

TEST_CASE("the ends of exp, log and pow of a pack are those of the standard library") {
    const double not_a_number = std::numeric_limits<double>::quiet_NaN();
    for (const double x :
         {0.0, infinity, -infinity, 800.0, -800.0, not_a_number}) { // -800: within 1e-347 of 0
        CAPTURE(x);
        CHECK(same(exp(Pack<4>(x))[3], std::exp(x)));
    }
    for (const double x : {0.0, 1.0, -1.0, infinity, -infinity, not_a_number}) {
        CAPTURE(x);
        CHECK(same(log(Pack<4>(x))[3], std::log(x)));
    }
    CHECK(pow(Pack<2>(0.0), Pack<2>(1.8))[0] == 0);
    CHECK(pow(Pack<2>(0.0), Pack<2>(-0.2))[0] == infinity);
    CHECK(pow(Pack<2>(0.0), Pack<2>(0.0))[0] == 1);
    CHECK(pow(Pack<2>(1.0), Pack<2>(0.3))[0] == 1);
}

TEST_CASE("a dual over a pack carries in each lane what a dual over a number carries") {
    using Wide = Dual<Pack<4>, 2>;
    using Narrow = Dual<double, 2>;
    const auto law = [](auto u, auto w) {
        using S = decltype(u);
        const S root = sqrt(max(u * w, 0.25)) + 2.0 / (1.0 + abs(w));
        return S(root * pow(u, 1.3) - min(w, 0.5) * exp(-w) + log(u) / 3.0);
    };
    const std::vector<double> a{0.3, 1.1, 2.7, 0.04}, b{-0.4, 0.6, 1.9, 0.5};
    const Wide wide = law(Wide(filled<4>(a), 0, 1.0), Wide(filled<4>(b), 1, 1.0));
    for (std::size_t i = 0; i < 4; ++i) {
        const Narrow narrow = law(Narrow(a[i], 0, 1.0), Narrow(b[i], 1, 1.0));
        constexpr double rounding = 1e-14; // of a few powers
        CHECK(wide.value[i] == doctest::Approx(narrow.value).epsilon(rounding));
        CHECK(wide.slope[0][i] == doctest::Approx(narrow.slope[0]).epsilon(rounding));
        CHECK(wide.slope[1][i] == doctest::Approx(narrow.slope[1]).epsilon(rounding));
    }
}
