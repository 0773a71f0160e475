/// Darcy friction factor f of a pipe: dp/dx = f rho v|v| / (2 D).
///
/// Re is the Reynolds number v D / nu; `roughness` is relative, epsilon / D. Not modelled: unsteady friction (it belongs to
/// the pipe), ageing of the wall.
#pragma once

#include "sim/contract/select.h"

#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>

namespace needleturn::models {

/// x^k of plain numbers for one k, within 1e-15 of it: the powers of the exponent and of the middle of a 32nd of the mantissa from
/// tables, the rest by the binomial series. Churchill's formula asks for two such powers in every cell at every call; with std::pow,
/// which takes 2.5 times as long and is right to the last bit for any k, they were a quarter of a run.
class TabledPower {
  public:
    /// Tables for x from 2^lowest on, as far as 2^(lowest + 64); beyond them std::pow.
    TabledPower(double power, int lowest)
        : power_{power}, lowest_{std::uint64_t(exponent_bias + lowest)}, series_{power} {
        for (std::size_t k = 1; k < series_.size(); ++k)
            series_[k] = series_[k - 1] * (power - static_cast<double>(k)) / static_cast<double>(k + 1);
        for (std::size_t i = 0; i < middles; ++i) {
            const double middle = 1 + (static_cast<double>(i) + 0.5) / middles;
            middles_[i] = {1 / middle, std::pow(middle, power)};
        }
        for (std::size_t i = 0; i < exponents; ++i)
            powers_[i] = std::pow(std::bit_cast<double>((lowest_ + i) << mantissa_bits), power);
    }

    double operator()(double x) const {
        const auto bits = std::bit_cast<std::uint64_t>(x);
        const auto exponent = (bits >> mantissa_bits) - lowest_;
        if (exponent >= exponents)
            return std::pow(x, power_);
        const auto middle = middles_[(bits >> (mantissa_bits - 5)) % middles];
        const auto mantissa = std::bit_cast<double>((bits & ((std::uint64_t{1} << mantissa_bits) - 1))
                                                    | std::bit_cast<std::uint64_t>(1.0));
        const double d = mantissa * middle.inverse - 1; // at most 1/65
        const auto& c = series_;
        const double d2 = d * d;
        const double series =
            1 + d * c[0] + d2 * (c[1] + c[2] * d + d2 * (c[3] + c[4] * d + d2 * (c[5] + c[6] * d)));
        return powers_[exponent] * middle.power * series;
    }

  private:
    static constexpr unsigned mantissa_bits = 52;
    static constexpr int exponent_bias = 1023;
    static constexpr std::size_t middles = 32, exponents = 64;

    struct Middle {
        double inverse, power;
    };
    double power_;
    std::uint64_t lowest_;
    std::array<double, 7> series_;
    std::array<Middle, middles> middles_{};
    std::array<double, exponents> powers_{};
};

/// x^0.9 and x^(1/12), x > 0; the tables are for what Churchill's formula takes the powers of.
template <class S> S nine_tenths_power(const S& x) {
    using std::pow;
    return pow(x, 0.9);
}
inline double nine_tenths_power(double x) {
    static const TabledPower power(0.9, -64);
    return power(x);
}
template <class S> S twelfth_root(const S& x) {
    using std::pow;
    return pow(x, 1.0 / 12.0);
}
inline double twelfth_root(double x) {
    static const TabledPower power(1.0 / 12.0, -128);
    return power(x);
}

/// f = 8 ((8/Re)^12 + (A + B)^-1.5)^(1/12),  A = (2.457 ln(1/((7/Re)^0.9 + 0.27 roughness)))^16,  B =
/// (37530/Re)^16. Churchill 1977, Chem. Eng. 84(24), 91-92: laminar, transitional and turbulent in one smooth
/// formula. `reynolds` must be positive (1e-3 and above keeps every power finite), `roughness` 0 or more.
template <class S, class P> S churchill(S reynolds, P roughness) {
    using std::log;
    using std::sqrt;
    // Lines spend most of the time of a run here, so terms that are lost beside another one are left out: the
    // turbulent ones below Re = 1000, where they are 2e-14 of f, the two others above 25 000, where they are 2e-13 (up to a
    // roughness of 0.05).
    const auto squared = [](const S& x) -> S { return x * x; };
    const auto logarithm = [&]() -> S { // the sign is lost in the even powers
        return 2.457 * log(nine_tenths_power(S(7.0 / reynolds)) + 0.27 * roughness);
    };
    const auto turbulent = [&]() -> S { return 8.0 / squared(logarithm()); };
    const auto between = [&]() -> S {
        const S a = squared(squared(squared(squared(logarithm()))));
        const S b = squared(squared(squared(squared(37530.0 / reynolds))));
        const S laminar = squared(squared(8.0 / reynolds)); // to the fourth, cubed below
        const S sum = a + b;
        return 8.0 * twelfth_root(S(laminar * laminar * laminar + 1.0 / (sum * sqrt(sum))));
    };
    return where(
        reynolds < S(1000.0), [&]() -> S { return 64.0 / reynolds; },
        [&]() -> S { return where(reynolds > S(25000.0), turbulent, between); });
}

} // namespace needleturn::models
