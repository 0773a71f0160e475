/// Rodas5P: a stiffly accurate, L-stable Rosenbrock method of order 5 with an embedded solution of order 4
/// and dense output of order 4. Source: G. Steinebach, "Construction of Rosenbrock-Wanner method Rodas5P and
/// numerical benchmarks within the Julia Differential Equations package", BIT Numerical Mathematics 63:27
/// (2023), doi 10.1007/s10543-023-00967-x. The usual transformed form, one factorisation a step:
///
///     W = I/(h gamma) - J
///     W k_i = f(t + alpha_i h, y + sum_j a_ij k_j) + sum_j (c_ij / h) k_j + h d_i df/dt,   i = 1..8
///     y_new = y + sum_j a_6j k_j + k_6 + k_7 + k_8,   error estimate = k_8
///     y(t + s h) = y (1 - s) + s (y_new + (1 - s) (h_1.k + s (h_2.k + s h_3.k)))
///
/// tests/published/rodas5p.cpp checks the order conditions of these numbers and measures the order.
#pragma once

#include "sim/assembly.h"
#include "sim/contract/select.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

namespace needleturn::sim {

namespace rodas5p {
inline constexpr int stages = 8;
inline constexpr double gamma = 0.21193756319429014;
// clang-format off
inline constexpr double a[6][8] = {
    {0, 0, 0, 0, 0, 0, 0, 0},
    {3.0, 0, 0, 0, 0, 0, 0, 0},
    {2.849394379747939, 0.45842242204463923, 0, 0, 0, 0, 0, 0},
    {-6.954028509809101, 2.489845061869568, -10.358996098473584, 0, 0, 0, 0, 0},
    {2.8029986275628964, 0.5072464736228206, -0.3988312541770524, -0.04721187230404641, 0, 0, 0, 0},
    {-7.502846399306121, 2.561846144803919, -11.627539656261098, -0.18268767659942256, 0.030198172008377946, 0, 0, 0},
};
inline constexpr double c[8][8] = {
    {0, 0, 0, 0, 0, 0, 0, 0},
    {-14.155112264123755, 0, 0, 0, 0, 0, 0, 0},
    {-17.97296035885952, -2.859693295451294, 0, 0, 0, 0, 0, 0},
    {147.12150275711716, -1.41221402718213, 71.68940251302358, 0, 0, 0, 0, 0},
    {165.43517024871676, -0.4592823456491126, 42.90938336958603, -5.961986721573306, 0, 0, 0, 0},
    {24.854864614690072, -3.0009227002832186, 47.4931110020768, 5.5814197821558125, -0.6610691825249471, 0, 0, 0},
    {30.91273214028599, -3.1208243349937974, 77.79954646070892, 34.28646028294783, -19.097331116725623, -28.087943162872662, 0, 0},
    {37.80277123390563, -3.2571969029072276, 112.26918849496327, 66.9347231244047, -40.06618937091002, -54.66780262877968, -9.48861652309627, 0},
};
inline constexpr double h[3][8] = {
    {25.948786856663858, -2.5579724845846235, 10.433815404888879, -2.3679251022685204, 0.524948541321073, 1.1241088310450404, 0.4272876194431874, -0.17202221070155493},
    {-9.91568850695171, -0.9689944594115154, 3.0438037242978453, -24.495224566215796, 20.176138334709044, 15.98066361424651, -6.789040303419874, -6.710236069923372},
    {11.419903575922262, 2.8879645146136994, 72.92137995996029, 80.12511834622643, -52.072871366152654, -59.78993625266729, -0.15582684282751913, 4.883087185713722},
};
inline constexpr double alpha[8] = {0, 0.6358126895828704, 0.4095798393397535, 0.9769306725060716, 0.4288403609558664, 1, 1, 1};
inline constexpr double d[8] = {0.21193756319429014, -0.42387512638858027, -0.3384627126235924, 1.8046452872882734, 2.325825639765069, 0, 0, 0};
// clang-format on

// The plain controller of Hairer and Wanner, "Solving Ordinary Differential Equations II" (1996), section
// IV.8: the embedded solution has order 4, so the error of a step grows with the fifth power of its
// length. The safety factor is lower than the usual 0.9: here errors jump from step to step, and at 0.75
// the same accuracy costs 10 to 20 % fewer attempts, of which 5 to 10 % are rejected in place of 20 to 25.
inline constexpr double order = 5, safety = 0.75, least_growth = 0.2, most_growth = 6;

/// Does a step of the length that is `due` land on the limit that is `left` to go? No sliver is left before it.
template <class T> auto lands(const T& due, const T& left) { return due >= left * (1 - 1e-9); }

/// The length to attempt when `due` is due and the limit `left` to go.
template <class T> T length(const T& due, const T& left) {
    return select(lands(due, left), left, select(due > 0.5 * left, T(0.5 * left), due));
}

/// The length that is due after an attempt of length `tried` was `taken`, or was not, with `error` in units of the tolerance;
/// `due` was before it, `retry` whether it followed one that failed.
template <class T, class Yes>
T next_due(const T& tried, const T& due, const T& error, const Yes& taken, const Yes& retry) {
    using std::isfinite;
    using std::max;
    using std::min;
    using std::pow;
    const T fit = safety * pow(error, T(-1.0 / order));
    const T longer = tried * max(min(fit, select(retry, T(1.0), T(most_growth))), T(least_growth));
    const T shorter =
        tried * select(isfinite(error), max(min(fit, T(0.9)), T(least_growth)), T(least_growth));
    // A step cut short by the limit says nothing against the longer one that was due.
    return select(taken, select(tried < due, max(longer, due), longer), shorter);
}
} // namespace rodas5p

/// How far from the exact solution one step may end.
struct Tolerance {
    /// Allowed error of each state, relative to its size or its typical size, whichever is larger:
    /// 1e-12 to 1e-2.
    double relative = 1e-5;
};

/// One attempted step, of one run or of a pack of runs with a time and a length each: A is an Assembly.
///
/// Errors are weighed per state by its typical size, so that one tolerance means the same to pascals and
/// metres, and the norm is the largest root mean square of any one part ("main", "outlet"), so that a pipe of
/// a hundred cells cannot drown the few states of a pilot. Meters are not weighed; they only have to stay
/// numbers.
template <class A> class Rodas5PStep {
  public:
    using T = typename A::Scalar;

    explicit Rodas5PStep(const A& assembly)
        : n_{assembly.size()}, padded_{(n_ + 7) / 8 * 8}, entries_{assembly.lu().entries()} {
        const auto& states = assembly.model().states();
        typical_.assign(padded_, T(1.0));
        std::string part;
        for (std::size_t i = 0; i < n_; ++i) {
            typical_[i] = T(states[i].typical);
            const bool meter = states[i].role == Role::meter;
            const auto name = meter ? std::string() : states[i].name.substr(0, states[i].name.find('.'));
            if (parts_.empty() || name != part)
                parts_.push_back({i, i, 0});
            part = name;
            parts_.back().end = i + 1;
            // A share of 0 leaves a meter out of the norm, and still turns an infinity of it into a NaN.
            parts_.back().share = meter ? 0 : 1.0 / static_cast<double>(i + 1 - parts_.back().begin);
        }
        for (auto* array : {&y, &y_new, &stage_, &rate, &first_rate})
            array->assign(padded_, T(0.0));
        for (auto& k : k_)
            k.assign(padded_, T(0.0));
        for (auto& r : dense_)
            r.assign(padded_, T(0.0));
        jacobian.assign(entries_ + n_ + 8, T(0.0));
        matrix_.assign(entries_, T(0.0));
    }

    /// The sizes by which errors are weighed, per state: those of the model at first.
    std::vector<T>& typical() { return typical_; }

    /// Takes rates and Jacobian at (t, y).
    void linearise(const A& assembly, const T& t) {
        assembly.linearise(t, y.data(), first_rate.data(), jacobian.data());
    }

    /// From (t, y) to t + h: fills y_new. Returns the largest error relative to the size of its state, squared; not a
    /// number or infinite where it broke down.
    T attempt(const A& assembly, const T& t, const T& h) {
        if (!factor(assembly.lu(), h))
            return T(std::numeric_limits<double>::infinity());
        first_stage(assembly.lu(), h);
        [&]<std::size_t... I>(std::index_sequence<I...>) { (stage<I + 1>(assembly, t, h), ...); }
        (std::make_index_sequence<rodas5p::stages - 1>{});
        return add_last_stage();
    }

    /// Makes `interpolated` ready for the last attempt.
    void know_dense() {
        for (std::size_t r = 0; r < 3; ++r)
            for (std::size_t s = 0; s < padded_; ++s) {
                T sum(0.0);
                for (std::size_t j = 0; j < rodas5p::stages; ++j)
                    sum += rodas5p::h[r][j] * k_[j][s];
                dense_[r][s] = sum;
            }
    }

    /// State i at the fraction s of the last attempt. Dense output of order 4.
    template <class Of> double interpolated(std::size_t i, double s, const Of& of) const {
        return of(y[i]) * (1 - s)
               + s
                     * (of(y_new[i])
                        + (1 - s) * (of(dense_[0][i]) + s * (of(dense_[1][i]) + s * of(dense_[2][i]))));
    }

    /// Repeats the last attempt stage by stage; the first state whose rate is not a number, size() if there is
    /// none.
    std::size_t first_broken(const A& assembly, double t, double h) {
        std::size_t broken = n_;
        const auto look = [&] {
            for (std::size_t i = 0; i < n_ && broken == n_; ++i)
                if (!std::isfinite(rate[i]))
                    broken = i;
        };
        attempt(assembly, t, h);
        [&]<std::size_t... I>(std::index_sequence<I...>) { ((stage<I + 1>(assembly, t, h), look()), ...); }
        (std::make_index_sequence<rodas5p::stages - 1>{});
        return broken;
    }

    double weighed_error(std::size_t i) const {
        return std::abs(k_[7][i]) / std::max(typical_[i], std::abs(y[i]));
    }

    const std::vector<T>& error() const { return k_[7]; } ///< estimate of the last attempt's, per state

    std::size_t size() const { return n_; }

    std::vector<T> y,
        y_new; ///< before and after the attempt: the states, then whatever else the caller stores
    std::vector<T> rate, first_rate; ///< of the last stage and at y
    std::vector<T> jacobian;         ///< at y, df/dt behind it

  private:
    struct Part {
        std::size_t begin, end;
        double share; ///< 1 / number of states
    };

    template <class Lu> bool factor(const Lu& lu, const T& h) {
        const T* j = jacobian.data();
        for (std::size_t i = 0; i < matrix_.size(); ++i)
            matrix_[i] = -j[i];
        for (const auto at : lu.diagonal())
            matrix_[at] += 1 / (h * rodas5p::gamma);
        return lu.factor(matrix_.data());
    }

    template <class Lu> void first_stage(const Lu& lu, const T& h) {
        T* k = k_[0].data();
        const T* slope = jacobian.data() + entries_;
        const T hd = h * rodas5p::d[0];
        for (std::size_t s = 0; s < n_; ++s)
            k[s] = first_rate[s] + hd * slope[s];
        lu.solve(matrix_.data(), k);
    }

    template <std::size_t I> void stage(const A& assembly, const T& t, const T& h) {
        T* __restrict at = stage_.data();
        T* __restrict k = k_[I].data();
        const T* __restrict start = y.data();
        std::array<const T*, I> before;
        for (std::size_t j = 0; j < I; ++j)
            before[j] = k_[j].data();
        if constexpr (I < 6) {
            for (std::size_t s = 0; s < padded_; ++s) {
                T sum = start[s];
                for (std::size_t j = 0; j < I; ++j)
                    sum += rodas5p::a[I][j] * before[j][s];
                at[s] = sum;
            }
        } else { // stages 7 and 8 and the solution itself each add the increment before
            const T* __restrict last = before[I - 1];
            for (std::size_t s = 0; s < padded_; ++s)
                at[s] += last[s];
        }
        assembly.rates(t + rodas5p::alpha[I] * h, at, rate.data());
        const T inverse = 1 / h;
        const T* __restrict f = rate.data();
        const T* __restrict slope = jacobian.data() + entries_;
        for (std::size_t s = 0; s < n_; ++s) {
            T sum(0.0);
            for (std::size_t j = 0; j < I; ++j)
                sum += rodas5p::c[I][j] * before[j][s];
            k[s] = f[s] + inverse * sum;
            if constexpr (rodas5p::d[I] != 0)
                k[s] += h * rodas5p::d[I] * slope[s];
        }
        assembly.lu().solve(matrix_.data(), k);
    }

    T add_last_stage() {
        using std::abs;
        using std::max;
        const T* error = k_[7].data();
        for (std::size_t s = 0; s < padded_; ++s)
            y_new[s] = stage_[s] + error[s];
        T worst(0.0), all(0.0);
        for (const auto& part : parts_) {
            T sum(0.0);
            for (std::size_t s = part.begin; s < part.end; ++s) {
                const T size = max(max(typical_[s], T(abs(y[s]))), T(abs(y_new[s])));
                const T e = error[s] / size;
                sum += e * e;
            }
            sum *= part.share;
            worst = max(worst, sum);
            all += sum; // keeps a NaN, which the maximum may lose
        }
        return select(all == all, worst, all); // NOLINT(misc-redundant-expression): a NaN is not itself
    }

    std::size_t n_, padded_, entries_;
    std::vector<Part> parts_;
    std::vector<T> typical_;
    std::vector<T> stage_;
    std::array<std::vector<T>, rodas5p::stages> k_;
    std::vector<T> matrix_;
    std::array<std::vector<T>, 3> dense_;
};

} // namespace needleturn::sim
