/// Dual numbers of many inputs, their slopes two by two: what sensitivities are carried in (sim/sensitivities.h).
///
/// The same numbers, to the bit, as the general ones of sim/dual.h. There a compiler must take it that what is written may be what is read
/// next, and so computes slopes one after the other; here it computes two at once, which every x86-64 processor can.
///
/// Of 10 inputs or more: elements of models have fewer, so that no Jacobian is made of these.
#pragma once

#include "sim/dual.h"

#include <array>
#include <cmath>
#include <cstddef>
#include <cstring>

namespace needleturn::sim {

template <std::size_t N>
requires(N >= 10 && N % 2 == 0) struct Dual<double, N> {
    double value{};
    std::array<double, N> slope{};

    Dual() = default;
    Dual(double constant)
        : value(constant) {} // NOLINT(google-explicit-constructor): constants mix with duals in equations
    Dual(double value_of, std::size_t input, double seed) : value(value_of) { slope[input] = seed; }

    static Dual chain(double of, double rate, const Dual& u) {
        Dual result(of);
        result.set([&](std::size_t i) { return both(rate) * u.pair(i); });
        return result;
    }

    Dual& operator+=(const Dual& b) {
        value += b.value;
        set([&](std::size_t i) { return pair(i) + b.pair(i); });
        return *this;
    }
    Dual& operator-=(const Dual& b) {
        value -= b.value;
        set([&](std::size_t i) { return pair(i) - b.pair(i); });
        return *this;
    }
    Dual& operator*=(const Dual& b) {
        const double mine = value, other = b.value;
        set([&](std::size_t i) { return pair(i) * both(other) + both(mine) * b.pair(i); });
        value = mine * other;
        return *this;
    }
    Dual& operator/=(const Dual& b) {
        const double inverse = 1 / b.value, quotient = value * inverse;
        set([&](std::size_t i) { return (pair(i) - both(quotient) * b.pair(i)) * both(inverse); });
        value = quotient;
        return *this;
    }
    Dual& operator+=(double b) { return value += b, *this; }
    Dual& operator-=(double b) { return value -= b, *this; }
    Dual& operator*=(double b) {
        value *= b;
        set([&](std::size_t i) { return pair(i) * both(b); });
        return *this;
    }
    Dual& operator/=(double b) { return *this *= 1 / b; }

    friend Dual operator+(Dual a, const Dual& b) { return a += b; }
    friend Dual operator-(Dual a, const Dual& b) { return a -= b; }
    friend Dual operator*(Dual a, const Dual& b) { return a *= b; }
    friend Dual operator/(Dual a, const Dual& b) { return a /= b; }
    friend Dual operator+(Dual a, double b) { return a += b; }
    friend Dual operator-(Dual a, double b) { return a -= b; }
    friend Dual operator*(Dual a, double b) { return a *= b; }
    friend Dual operator/(Dual a, double b) { return a /= b; }
    friend Dual operator+(double a, Dual b) { return b += a; }
    friend Dual operator-(double a, const Dual& b) { return chain(a - b.value, -1, b); }
    friend Dual operator*(double a, Dual b) { return b *= a; }
    friend Dual operator/(double a, const Dual& b) {
        const double quotient = a / b.value;
        return chain(quotient, -quotient / b.value, b);
    }
    friend Dual operator-(const Dual& a) { return chain(-a.value, -1, a); }
    friend Dual operator+(const Dual& a) { return a; }

    friend bool operator<(const Dual& a, const Dual& b) { return a.value < b.value; }
    friend bool operator>(const Dual& a, const Dual& b) { return a.value > b.value; }
    friend bool operator<=(const Dual& a, const Dual& b) { return a.value <= b.value; }
    friend bool operator>=(const Dual& a, const Dual& b) { return a.value >= b.value; }
    friend bool operator==(const Dual& a, const Dual& b) { return a.value == b.value; }

    friend Dual sqrt(const Dual& a) {
        const double root = std::sqrt(a.value);
        return chain(root, 0.5 / root, a);
    }
    friend Dual exp(const Dual& a) {
        const double e = std::exp(a.value);
        return chain(e, e, a);
    }
    friend Dual log(const Dual& a) { return chain(std::log(a.value), 1 / a.value, a); }
    friend Dual pow(const Dual& a, double power) {
        const double one_less = std::pow(a.value, power - 1);
        // At 0 the slope of a power below 1 is infinite: there one_less * 0 is not a number.
        const bool infinite_slope = power >= 0 && power < 1;
        return chain(infinite_slope ? std::pow(a.value, power) : one_less * a.value, power * one_less, a);
    }
    friend Dual pow(const Dual& a, const Dual& power) {
        Dual result = pow(a, power.value);
        constexpr double least = 1e-300; // at 0 the slope by the power is 0
        const double by_power = result.value * std::log(std::max(a.value, least));
        result.set([&](std::size_t i) { return result.pair(i) + both(by_power) * power.pair(i); });
        return result;
    }
    friend Dual abs(const Dual& a) { return chain(std::abs(a.value), a.value < 0 ? -1 : 1, a); }
    friend Dual max(const Dual& a, double b) { return a.value > b ? a : Dual(b); }
    friend Dual min(const Dual& a, double b) { return a.value < b ? a : Dual(b); }
    friend Dual max(const Dual& a, const Dual& b) { return a.value > b.value ? a : b; }
    friend Dual min(const Dual& a, const Dual& b) { return a.value < b.value ? a : b; }

    /// sim/contract/of_two.h
    template <class F> friend Dual of_two(const F& f, const Dual& x, const Dual& y) {
        using Inner = Dual<double, 2>;
        const Inner inner = f(Inner(x.value, 0, 1), Inner(y.value, 1, 1));
        Dual result(inner.value);
        result.set([&](std::size_t i) {
            return both(inner.slope[0]) * x.pair(i) + both(inner.slope[1]) * y.pair(i);
        });
        return result;
    }

    friend Dual select(bool first, const Dual& a, const Dual& b) { return first ? a : b; }

  private:
    using Pair = double __attribute__((vector_size(16)));

    static Pair both(double x) { return Pair{x, x}; }
    [[gnu::always_inline]] Pair pair(std::size_t i) const {
        Pair two;
        std::memcpy(&two, slope.data() + i, sizeof two);
        return two;
    }
    /// of(0), of(2), ...: each is read before it is written.
    template <class Of> [[gnu::always_inline]] void set(const Of& of) {
        [&]<std::size_t... I>(std::index_sequence<I...>) __attribute__((always_inline)) {
            (put(2 * I, of(2 * I)), ...);
        }
        (std::make_index_sequence<N / 2>{});
    }
    [[gnu::always_inline]] void put(std::size_t i, Pair two) {
        std::memcpy(slope.data() + i, &two, sizeof two);
    }
};

} // namespace needleturn::sim
