/// Forward-mode dual numbers: a value and its exact derivatives with respect to N inputs, carried through
/// every operation by the chain rule. T is the type of both (double, or a pack of lanes).
#pragma once

#include "sim/contract/of_two.h"
#include "sim/contract/select.h"

#include <array>
#include <cmath>
#include <cstddef>
#include <utility>

namespace needleturn::sim {

template <class T, std::size_t N> struct Dual {
    T value{};
    std::array<T, N> slope{};

    Dual() = default;
    Dual(T constant)
        : value(constant) {} // NOLINT(google-explicit-constructor): constants mix with duals in equations
    Dual(T value_of, std::size_t input, T seed) : value(value_of) { slope[input] = seed; }

    /// f(u) with f = `of`, f'(u) = `rate`.
    static Dual chain(T of, T rate, const Dual& u) {
        Dual result(of);
        each([&](std::size_t i) { result.slope[i] = rate * u.slope[i]; });
        return result;
    }

    Dual& operator+=(const Dual& b) {
        value += b.value;
        each([&](std::size_t i) { slope[i] += b.slope[i]; });
        return *this;
    }
    Dual& operator-=(const Dual& b) {
        value -= b.value;
        each([&](std::size_t i) { slope[i] -= b.slope[i]; });
        return *this;
    }
    Dual& operator*=(const Dual& b) {
        each([&](std::size_t i) { slope[i] = slope[i] * b.value + value * b.slope[i]; });
        value *= b.value;
        return *this;
    }
    Dual& operator/=(const Dual& b) {
        const T inverse = T(1) / b.value;
        value *= inverse;
        each([&](std::size_t i) { slope[i] = (slope[i] - value * b.slope[i]) * inverse; });
        return *this;
    }
    Dual& operator+=(T b) { return value += b, *this; }
    Dual& operator-=(T b) { return value -= b, *this; }
    Dual& operator*=(T b) {
        value *= b;
        each([&](std::size_t i) { slope[i] *= b; });
        return *this;
    }
    Dual& operator/=(T b) { return *this *= T(1) / b; }

    friend Dual operator+(Dual a, const Dual& b) { return a += b; }
    friend Dual operator-(Dual a, const Dual& b) { return a -= b; }
    friend Dual operator*(Dual a, const Dual& b) { return a *= b; }
    friend Dual operator/(Dual a, const Dual& b) { return a /= b; }
    friend Dual operator+(Dual a, T b) { return a += b; }
    friend Dual operator-(Dual a, T b) { return a -= b; }
    friend Dual operator*(Dual a, T b) { return a *= b; }
    friend Dual operator/(Dual a, T b) { return a /= b; }
    friend Dual operator+(T a, Dual b) { return b += a; }
    friend Dual operator-(T a, const Dual& b) { return chain(a - b.value, T(-1), b); }
    friend Dual operator*(T a, Dual b) { return b *= a; }
    friend Dual operator/(T a, const Dual& b) {
        const T quotient = a / b.value;
        return chain(quotient, -quotient / b.value, b);
    }
    friend Dual operator-(const Dual& a) { return chain(-a.value, T(-1), a); }
    friend Dual operator+(const Dual& a) { return a; }

    friend auto operator<(const Dual& a, const Dual& b) { return a.value < b.value; }
    friend auto operator>(const Dual& a, const Dual& b) { return a.value > b.value; }
    friend auto operator<=(const Dual& a, const Dual& b) { return a.value <= b.value; }
    friend auto operator>=(const Dual& a, const Dual& b) { return a.value >= b.value; }
    friend auto operator==(const Dual& a, const Dual& b) { return a.value == b.value; }

    friend Dual sqrt(const Dual& a) {
        using std::sqrt;
        const T root = sqrt(a.value);
        return chain(root, T(0.5) / root, a);
    }
    friend Dual exp(const Dual& a) {
        using std::exp;
        const T e = exp(a.value);
        return chain(e, e, a);
    }
    friend Dual log(const Dual& a) {
        using std::log;
        return chain(log(a.value), T(1) / a.value, a);
    }
    /// a >= 0; at 0 the slope is that of the limit from above, which is infinite for powers below 1.
    friend Dual pow(const Dual& a, T power) {
        using std::pow;
        const T one_less = pow(a.value, power - T(1));
        const auto from_zero = power >= T(0), below_one = power < T(1);
        const auto infinite_slope = from_zero & below_one; // there one_less * 0 is not a number
        return chain(
            either(
                infinite_slope, [&] { return pow(a.value, power); }, [&] { return T(one_less * a.value); }),
            power * one_less, a);
    }
    /// a >= 0, power > 0 where a is 0: the power itself has a slope, that of a parameter.
    friend Dual pow(const Dual& a, const Dual& power) {
        using std::log;
        using std::max;
        using std::pow;
        const Dual fixed = pow(a, power.value);
        // At 0 the slope by the power is 0, and its logarithm must not be asked for.
        constexpr double least = 1e-300;
        const T by_power = fixed.value * log(max(a.value, T(least)));
        Dual result = fixed;
        each([&](std::size_t i) { result.slope[i] += by_power * power.slope[i]; });
        return result;
    }
    friend Dual abs(const Dual& a) {
        using std::abs;
        return chain(abs(a.value), select(a.value < T(0), T(-1), T(1)), a);
    }
    friend Dual max(const Dual& a, T b) { return select(a.value > b, a, Dual(b)); }
    friend Dual min(const Dual& a, T b) { return select(a.value < b, a, Dual(b)); }
    friend Dual max(const Dual& a, const Dual& b) { return select(a.value > b.value, a, b); }
    friend Dual min(const Dual& a, const Dual& b) { return select(a.value < b.value, a, b); }

    /// sim/contract/of_two.h
    template <class F> friend Dual of_two(const F& f, const Dual& x, const Dual& y) {
        using Inner = Dual<T, 2>;
        const Inner inner = f(Inner(x.value, 0, T(1)), Inner(y.value, 1, T(1)));
        Dual result(inner.value);
        each([&](std::size_t i) {
            result.slope[i] = inner.slope[0] * x.slope[i] + inner.slope[1] * y.slope[i];
        });
        return result;
    }

    /// Without a branch: which part touches and which way a check stands is hard to foretell.
    template <class Condition> friend Dual select(const Condition& first, const Dual& a, const Dual& b) {
        using needleturn::select; // of T
        Dual result(select(first, a.value, b.value));
        each([&](std::size_t i) { result.slope[i] = select(first, a.slope[i], b.slope[i]); });
        return result;
    }

  private:
    /// on(0), ..., on(N - 1), written out: the compiler keeps slopes in registers only where it sees no loop.
    template <class On> [[gnu::always_inline]] static void each(const On& on) {
        [&]<std::size_t... I>(std::index_sequence<I...>) __attribute__((always_inline)) { (on(I), ...); }
        (std::make_index_sequence<N>{});
    }
};

} // namespace needleturn::sim
