/// Pack: W numbers side by side, one for each lane of a vector register; every operation acts on all of them. Where a
/// right-hand side takes a pack as its scalar it computes W runs at once.
///
/// Every operation is one of IEEE arithmetic in each lane by itself. So what a lane computes depends neither on W, nor on
/// its neighbours, nor on the processor.
///
/// Written with the compiler's vector types, not a processor's intrinsics: the function it all ends up in says for which
/// processor it is compiled (gnu::target), and has everything inlined (gnu::flatten). Copying is written out so that a
/// pack travels by address into whatever is not inlined: by value it would be passed differently with and without AVX.
#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>

namespace needleturn::sim {

namespace detail {
template <std::size_t W> struct VectorOf;
template <> struct VectorOf<2> {
    using Number [[gnu::vector_size(16)]] = double;
    using Bits [[gnu::vector_size(16)]] = std::int64_t;
};
template <> struct VectorOf<4> {
    using Number [[gnu::vector_size(32)]] = double;
    using Bits [[gnu::vector_size(32)]] = std::int64_t;
};
template <> struct VectorOf<8> {
    using Number [[gnu::vector_size(64)]] = double;
    using Bits [[gnu::vector_size(64)]] = std::int64_t;
};
} // namespace detail

/// Yes or no per lane: all bits set or none.
// NOLINTNEXTLINE(cppcoreguidelines-special-member-functions): moving is copying
template <std::size_t W> struct alignas(8 * W) Mask {
    typename detail::VectorOf<W>::Bits bits{};

    Mask() = default;
    Mask(const Mask& other) : bits(other.bits) {} // NOLINT(modernize-use-equals-default): see above
    Mask& operator=(const Mask& other) {          // NOLINT(modernize-use-equals-default)
        bits = other.bits;
        return *this;
    }
    ~Mask() = default;

    bool operator[](std::size_t lane) const { return bits[lane] != 0; }

    friend Mask operator&(const Mask& a, const Mask& b) { return of(a.bits & b.bits); }
    friend Mask operator|(const Mask& a, const Mask& b) { return of(a.bits | b.bits); }
    friend Mask operator!(const Mask& a) { return of(~a.bits); }

    /// sim/contract/select.h, for lanes.
    template <class First, class Second>
    friend auto either(const Mask& condition, const First& first, const Second& second) {
        return select(condition, first(), second());
    }

    template <class First, class Second>
    friend auto where(const Mask& condition, const First& first, const Second& second) {
        bool all = true, any = false;
        for (std::size_t lane = 0; lane < W; ++lane) {
            all = all && condition[lane];
            any = any || condition[lane];
        }
        if (all)
            return first();
        return any ? select(condition, first(), second()) : second();
    }

    static Mask of(const typename detail::VectorOf<W>::Bits& bits) {
        Mask result;
        result.bits = bits;
        return result;
    }
};

// Aligned by name: without AVX the compiler aligns its wider vectors to 16 bytes only.
// NOLINTNEXTLINE(cppcoreguidelines-special-member-functions): moving is copying
template <std::size_t W> struct alignas(8 * W) Pack {
    using Number = typename detail::VectorOf<W>::Number;
    using Bits = typename detail::VectorOf<W>::Bits;

    static constexpr std::size_t width = W;
    Number lanes{};

    Pack() = default;
    Pack(double all)
        : lanes(Number{} + all) {} // NOLINT(google-explicit-constructor): constants mix with packs
    Pack(const Pack& other) : lanes(other.lanes) {} // NOLINT(modernize-use-equals-default): see above
    Pack& operator=(const Pack& other) {            // NOLINT(modernize-use-equals-default)
        lanes = other.lanes;
        return *this;
    }
    ~Pack() = default;

    double operator[](std::size_t lane) const { return lanes[lane]; }
    void set(std::size_t lane, double value) { lanes[lane] = value; }

    Pack& operator+=(const Pack& b) {
        lanes += b.lanes;
        return *this;
    }
    Pack& operator-=(const Pack& b) {
        lanes -= b.lanes;
        return *this;
    }
    Pack& operator*=(const Pack& b) {
        lanes *= b.lanes;
        return *this;
    }
    Pack& operator/=(const Pack& b) {
        lanes /= b.lanes;
        return *this;
    }
    friend Pack operator+(const Pack& a, const Pack& b) { return of(a.lanes + b.lanes); }
    friend Pack operator-(const Pack& a, const Pack& b) { return of(a.lanes - b.lanes); }
    friend Pack operator*(const Pack& a, const Pack& b) { return of(a.lanes * b.lanes); }
    friend Pack operator/(const Pack& a, const Pack& b) { return of(a.lanes / b.lanes); }
    friend Pack operator-(const Pack& a) { return of(-a.lanes); }

    friend Mask<W> operator<(const Pack& a, const Pack& b) { return Mask<W>::of(a.lanes < b.lanes); }
    friend Mask<W> operator>(const Pack& a, const Pack& b) { return Mask<W>::of(a.lanes > b.lanes); }
    friend Mask<W> operator<=(const Pack& a, const Pack& b) { return Mask<W>::of(a.lanes <= b.lanes); }
    friend Mask<W> operator>=(const Pack& a, const Pack& b) { return Mask<W>::of(a.lanes >= b.lanes); }
    friend Mask<W> operator==(const Pack& a, const Pack& b) { return Mask<W>::of(a.lanes == b.lanes); }

    friend Pack select(const Mask<W>& first, const Pack& a, const Pack& b) {
        return of(first.bits ? a.lanes : b.lanes);
    }
    friend Pack max(const Pack& a, const Pack& b) { return of(a.lanes < b.lanes ? b.lanes : a.lanes); }
    friend Pack min(const Pack& a, const Pack& b) { return of(b.lanes < a.lanes ? b.lanes : a.lanes); }
    friend Pack abs(const Pack& a) {
        constexpr std::int64_t all_but_sign = std::numeric_limits<std::int64_t>::max();
        return of((Number)((Bits)a.lanes & all_but_sign));
    }
    friend Mask<W> isfinite(const Pack& a) { return abs(a) <= Pack(std::numeric_limits<double>::max()); }
    friend Pack sqrt(const Pack& a) {
        Pack root;
        for (std::size_t i = 0; i < W; ++i)
            root.lanes[i] = __builtin_sqrt(a.lanes[i]);
        return root;
    }

    /// The exponential within 1 unit in the last place; 0 where the result would be subnormal. Reduction and polynomials
    /// of exp and log: Sun Microsystems' fdlibm (e_exp.c, e_log.c, 1993), the numbers from memory; tests/sim/pack.cpp
    /// holds both against the standard library.
    friend Pack exp(const Pack& x) {
        constexpr double per_ln2 = 1.44269504088896338700e+00;
        constexpr double smallest = -708, largest = 709.78;
        // Outside this range the bits of the exponent would overflow; the end of the function puts in 0 or infinity there.
        const Pack within = min(max(x, Pack(smallest)), Pack(largest));
        const Number n = within.lanes * per_ln2 + integers;
        const Number whole = n - integers;
        const Number high = within.lanes - whole * ln2_high;
        const Number low = whole * ln2_low;
        const Number r = high - low;
        const Number t = r * r;
        const Number c = r
                         - t
                               * (1.66666666666666019037e-01
                                  + t
                                        * (-2.77777777770155933842e-03
                                           + t
                                                 * (6.61375632143793436117e-05
                                                    + t
                                                          * (-1.65339022054652515390e-06
                                                             + t * 4.13813679705723846039e-08))));
        const Number y = 1.0 - ((low - (r * c) / (2.0 - c)) - high);
        constexpr int exponent = 52; // bits of a fraction
        const Pack scaled = of((Number)((Bits)y + ((Bits)n << exponent)));
        const Pack upper = select(x > Pack(largest), Pack(infinity), scaled);
        const Pack both = select(x < Pack(smallest), Pack(0.0), upper);
        return select(x == x, both, x); // NOLINT(misc-redundant-expression): a NaN is not itself
    }

    /// The natural logarithm within 1 unit in the last place, of normal numbers.
    friend Pack log(const Pack& x) {
        constexpr std::int64_t root_of_half = 0x3fe6a09e667f3bcd; // bits of it
        constexpr int exponent = 52;
        const Bits bits = (Bits)x.lanes;
        const Bits k = (bits - root_of_half) >> exponent;
        const Number f = (Number)(bits - (k << exponent)) - 1.0;
        const Number power = (Number)(k + (Bits)(Number{} + integers)) - integers;
        const Number s = f / (2.0 + f);
        const Number z = s * s;
        const Number w = z * z;
        const Number even =
            w * (3.999999999940941908e-01 + w * (2.222219843214978396e-01 + w * 1.531383769920937332e-01));
        const Number odd = z
                           * (6.666666666666735130e-01
                              + w
                                    * (2.857142874366239149e-01
                                       + w * (1.818357216161805012e-01 + w * 1.479819860511658591e-01)));
        const Number half = 0.5 * f * f;
        const Pack result =
            of(power * ln2_high - ((half - (s * (half + (even + odd)) + power * ln2_low)) - f));
        const Pack of_zero =
            select(x == Pack(0.0), Pack(-infinity), Pack(std::numeric_limits<double>::quiet_NaN()));
        return select(x == Pack(infinity), x, select(x > Pack(0.0), result, of_zero));
    }

    /// a >= 0. Relative error: 2 units in the last place times 1 + |power log(a)|.
    friend Pack pow(const Pack& a, const Pack& power) {
        return select(power == Pack(0.0), Pack(1.0), exp(power * log(a)));
    }

    static Pack of(const Number& lanes) {
        Pack result;
        result.lanes = lanes;
        return result;
    }

  private:
    static constexpr double infinity = std::numeric_limits<double>::infinity();
    /// 1.5 * 2^52: added to a number it leaves the nearest integer in the last bits.
    static constexpr double integers = 6755399441055744.0;
    static constexpr double ln2_high = 6.93147180369123816490e-01;
    static constexpr double ln2_low = 1.90821492927058770002e-10;
};

} // namespace needleturn::sim
