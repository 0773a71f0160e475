/// A number that counts what is done to numbers: the floating-point work of code that is templated on its scalar.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace needleturn::bench {

struct Operations {
    std::size_t add = 0, mul = 0, div = 0, sqrt = 0, pow = 0, exp = 0,
                choice = 0; ///< comparison, minimum, selection
};

struct Counted {
    double value = 0;
    static inline Operations
        done; // NOLINT(cppcoreguidelines-avoid-non-const-global-variables): the count itself

    Counted() = default;
    Counted(double of) : value{of} {}

    static double count(std::size_t& kind, double result) {
        ++kind;
        return result;
    }

    friend Counted operator+(Counted a, Counted b) { return count(done.add, a.value + b.value); }
    friend Counted operator-(Counted a, Counted b) { return count(done.add, a.value - b.value); }
    friend Counted operator*(Counted a, Counted b) { return count(done.mul, a.value * b.value); }
    friend Counted operator/(Counted a, Counted b) { return count(done.div, a.value / b.value); }
    friend Counted operator-(Counted a) { return -a.value; } // a sign is free
    Counted& operator+=(Counted b) { return *this = *this + b; }
    Counted& operator-=(Counted b) { return *this = *this - b; }
    Counted& operator*=(Counted b) { return *this = *this * b; }
    Counted& operator/=(Counted b) { return *this = *this / b; }
    friend bool operator<(Counted a, Counted b) { return count(done.choice, 0) == 0 && a.value < b.value; }
    friend bool operator>(Counted a, Counted b) { return b < a; }
    friend bool operator>=(Counted a, Counted b) { return a.value >= b.value; }
    friend bool operator==(Counted a, Counted b) { return a.value == b.value; }
    friend Counted select(bool first, Counted a, Counted b) { return first ? a : b; }
    friend Counted max(Counted a, Counted b) { return count(done.choice, std::max(a.value, b.value)); }
    friend Counted min(Counted a, Counted b) { return count(done.choice, std::min(a.value, b.value)); }
    friend Counted abs(Counted a) { return std::abs(a.value); }
    friend Counted sqrt(Counted a) { return count(done.sqrt, std::sqrt(a.value)); }
    friend Counted exp(Counted a) { return count(done.exp, std::exp(a.value)); }
    friend Counted log(Counted a) { return count(done.exp, std::log(a.value)); }
    friend Counted pow(Counted a, Counted power) { return count(done.pow, std::pow(a.value, power.value)); }
};

} // namespace needleturn::bench
