#include "sim/dual.h"

#include <doctest/doctest.h>

#include <cmath>

namespace {

using Pair = needleturn::sim::Dual<double, 2>;

constexpr double rounding = 1e-15; // of operands of size 1

/// u with slopes 1 and 0, w with slopes 0 and 1.
Pair u(double value) { return {value, 0, 1.0}; }
Pair w(double value) { return {value, 1, 1.0}; }

void check(const Pair& result, double value, double by_u, double by_w) {
    CAPTURE(value);
    CHECK(result.value == doctest::Approx(value).epsilon(rounding));
    CHECK(result.slope[0] == doctest::Approx(by_u).epsilon(rounding));
    CHECK(result.slope[1] == doctest::Approx(by_w).epsilon(rounding));
}

} // namespace

TEST_CASE("a dual carries the closed-form derivatives of sums, differences, products and quotients") {
    for (const double a : {-1.3, 0.4, 2.5})
        for (const double b : {-0.7, 1.9}) {
            check(u(a) + w(b), a + b, 1, 1);
            check(u(a) - w(b), a - b, 1, -1);
            check(u(a) * w(b), a * b, b, a);
            check(u(a) / w(b), a / b, 1 / b, -a / (b * b));
            check(-u(a), -a, -1, 0);
            check(+u(a), a, 1, 0);
        }
}

TEST_CASE("a dual mixes with constants on either side") {
    const double a = 1.7, c = 0.6;
    check(u(a) + c, a + c, 1, 0);
    check(c + u(a), a + c, 1, 0);
    check(u(a) - c, a - c, 1, 0);
    check(c - u(a), c - a, -1, 0);
    check(u(a) * c, a * c, c, 0);
    check(c * u(a), a * c, c, 0);
    check(u(a) / c, a / c, 1 / c, 0);
    check(c / u(a), c / a, -c / (a * a), 0);
}

TEST_CASE("a dual assigned in place by an operator equals the operator's result") {
    const double a = 1.7, b = -0.6;
    Pair x = u(a);
    x += w(b);
    check(x, a + b, 1, 1);
    x = u(a);
    x -= w(b);
    check(x, a - b, 1, -1);
    x = u(a);
    x *= w(b);
    check(x, a * b, b, a);
    x = u(a);
    x /= w(b);
    check(x, a / b, 1 / b, -a / (b * b));
    x = u(a);
    x += b;
    x -= 2 * b;
    x *= 3.0;
    x /= 2.0;
    check(x, 1.5 * (a - b), 1.5, 0);
}

TEST_CASE("a dual may be both operands of an operation in place") {
    Pair x = u(1.7);
    const Pair& same = x;
    x *= same;
    check(x, 1.7 * 1.7, 2 * 1.7, 0);
    x = u(1.7);
    x /= same;
    check(x, 1, 0, 0);
    x = u(1.7);
    x -= same;
    check(x, 0, 0, 0);
}

TEST_CASE("a dual carries the closed-form derivatives of functions") {
    for (const double a : {0.3, 1.0, 4.2}) {
        check(sqrt(u(a)), std::sqrt(a), 0.5 / std::sqrt(a), 0);
        check(exp(u(a)), std::exp(a), std::exp(a), 0);
        check(log(u(a)), std::log(a), 1 / a, 0);
        check(pow(u(a), 1.8), std::pow(a, 1.8), 1.8 * std::pow(a, 0.8), 0);
        check(pow(u(a), -1.2), std::pow(a, -1.2), -1.2 * std::pow(a, -2.2), 0);
        check(abs(u(a)), a, 1, 0);
        check(abs(u(-a)), a, -1, 0);
    }
}

TEST_CASE("the power of a zero is a zero, with the slope of the limit from above") {
    check(pow(u(0.0), 1.8), 0, 0, 0);
    check(pow(u(0.0), 1.0), 0, 1, 0);
    check(pow(u(0.0), 2.0), 0, 0, 0);
    const Pair root = pow(u(0.0), 0.5);
    CHECK(root.value == 0);
    CHECK(std::isinf(root.slope[0]));
}

TEST_CASE("the larger and the smaller dual come with their own slopes") {
    check(max(u(1.0), w(2.0)), 2, 0, 1);
    check(max(u(3.0), w(2.0)), 3, 1, 0);
    check(min(u(1.0), w(2.0)), 1, 1, 0);
    check(min(u(3.0), w(2.0)), 2, 0, 1);
    check(max(u(1.0), 2.0), 2, 0, 0);
    check(max(u(3.0), 2.0), 3, 1, 0);
    check(min(u(1.0), 2.0), 1, 1, 0);
    check(min(u(3.0), 2.0), 2, 0, 0);
    CHECK(u(1.0) < w(2.0));
    CHECK_FALSE(u(1.0) > w(2.0));
}

TEST_CASE("a dual of duals gives second derivatives") {
    using Second = needleturn::sim::Dual<needleturn::sim::Dual<double, 1>, 1>;
    const double a = 1.4;
    const Second x({a, 0, 1.0}, 0, 1.0);
    const auto y = x * x * x;
    CHECK(y.slope[0].slope[0] == doctest::Approx(6 * a));
}

TEST_CASE("a function of two values, differentiated by itself, has the slopes of the same carried through") {
    const auto f = [](auto x, auto y) { return x * y / (x * x + 2.0) + sqrt(y); };
    using Input = needleturn::sim::Dual<double, 3>;
    const Input a(1.3, 0, 1), b(0.7, 1, 1), c(-0.4, 2, 1);
    const Input through = f(a + 2.0 * c, b * c * c);
    const Input joined = of_two(f, a + 2.0 * c, b * c * c);
    CHECK(joined.value == through.value);
    for (std::size_t i = 0; i < 3; ++i)
        CHECK(joined.slope[i] == doctest::Approx(through.slope[i]).epsilon(1e-14));
    CHECK(needleturn::of_two([](double x, double y) { return x - y; }, 3.0, 1.0)
          == 2.0); // and of numbers it is the function
}
