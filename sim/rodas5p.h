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

#include "sim/system.h"

#include <Eigen/Core>
#include <boost/numeric/odeint/stepper/stepper_categories.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <stdexcept>
#include <string>
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
} // namespace rodas5p

/// How far from the exact solution one step may end.
struct Tolerance {
    /// Allowed error of each state, relative to its size or its typical size, whichever is larger:
    /// 1e-12 to 1e-2.
    double relative = 1e-5;
};

/// The run cannot go on: no step from `time` is short enough for the equation of `state`.
class IntegrationFailure : public std::runtime_error {
  public:
    IntegrationFailure(double at, const std::string& state_name, const std::string& why)
        : std::runtime_error("integration failed at t = " + std::to_string(at) + " s in " + state_name + ": "
                             + why),
          time{at},
          state{state_name} {}
    double time;
    std::string state;
};

/// Steps a System adaptively with Rodas5P. It models Boost.Odeint's dense output stepper (state_type,
/// initialize, do_step, calc_state, current_time ...), so Odeint's integrate functions and iterators can
/// drive it.
///
/// Errors are weighed per state by its typical size, so that one tolerance means the same to pascals and
/// metres, and the norm is the largest root mean square of any one part ("main", "outlet"), so that a pipe of
/// a hundred cells cannot drown the few states of a pilot. Meters are not weighed; they only have to stay
/// numbers.
template <class S> class Rodas5P {
  public:
    using state_type = Eigen::VectorXd;
    using deriv_type = state_type;
    using value_type = double;
    using time_type = double;
    using stepper_category = boost::numeric::odeint::dense_output_stepper_tag;

    struct Tally {
        std::size_t steps = 0, rejected = 0, rates = 0, jacobians = 0, factorisations = 0;
    };

    explicit Rodas5P(const S& system, Tolerance tolerance = {})
        : n_{system.size()}, padded_{(n_ + 7) / 8 * 8}, tolerance_{tolerance} {
        if (!(tolerance.relative > 0))
            throw std::invalid_argument("the tolerance must be above 0");
        const auto& states = system.model().states();
        typical_.assign(padded_, 1.0);
        std::string part;
        for (std::size_t i = 0; i < n_; ++i) {
            typical_[i] = states[i].typical;
            const bool meter = states[i].role == Role::meter;
            const auto name = meter ? std::string() : states[i].name.substr(0, states[i].name.find('.'));
            if (parts_.empty() || name != part)
                parts_.push_back({i, i, 0});
            part = name;
            parts_.back().end = i + 1;
            // A share of 0 leaves a meter out of the norm, and still turns an infinity of it into a NaN.
            parts_.back().share = meter ? 0 : 1.0 / static_cast<double>(i + 1 - parts_.back().begin);
        }
        for (auto* array : {&y_, &y_new_, &stage_, &rate_, &first_rate_})
            array->assign(padded_, 0.0);
        for (auto& k : k_)
            k.assign(padded_, 0.0);
        for (auto& r : dense_)
            r.assign(padded_, 0.0);
        jacobian_.assign(system.lu().entries() + n_ + 8, 0.0);
        matrix_.assign(system.lu().entries(), 0.0);
    }

    /// Starts anew at (t, y): at the beginning and after every breakpoint. A step of `first_step` is tried
    /// first.
    void initialize(const state_type& y, double t, double first_step) {
        std::copy_n(y.data(), n_, y_.data());
        std::copy_n(y.data(), n_, y_new_.data());
        t_ = t_old_ = t;
        step_ = first_step;
    }

    /// Makes one accepted step, at most to `limit`, as long as the error allows; returns its ends.
    /// Throws IntegrationFailure when no step is small enough.
    std::pair<double, double> do_step(const S& system,
                                      double limit = std::numeric_limits<double>::infinity()) {
        if (t_ > t_old_)
            std::swap(y_, y_new_);
        t_old_ = t_;
        system.linearise(t_, y_.data(), first_rate_.data(), jacobian_.data());
        ++tally_.jacobians;
        ++tally_.rates; // they come with it
        bool retry = false;
        for (;;) {
            double h = step_;
            const double left = limit - t_old_;
            if (h >= left * (1 - 1e-9))
                h = left; // land on the limit exactly, and leave no sliver before it
            else if (h > 0.5 * left)
                h = 0.5 * left;
            // Two breakpoints may lie a rounding error apart: what leads to the limit is never too short.
            if (h < 1e-13 * std::max(1.0, std::abs(t_old_)) && h < left)
                throw failure(system);
            h_ = h;
            const double error = attempt(system, h);
            if (error <= 1) {
                ++tally_.steps;
                const double growth = error > 0 ? safety * std::pow(error, -1.0 / order) : most_growth;
                const double next = h * std::clamp(growth, least_growth, retry ? 1.0 : most_growth);
                // A step cut short by the limit says nothing against the longer one that was due.
                step_ = h < step_ ? std::max(next, step_) : next;
                t_ = h == left ? limit : t_old_ + h;
                dense_known_ = false;
                return {t_old_, t_};
            }
            ++tally_.rejected;
            retry = true;
            step_ = h
                    * (std::isfinite(error)
                           ? std::clamp(safety * std::pow(error, -1.0 / order), least_growth, 0.9)
                           : least_growth);
        }
    }

    /// State at a time within the last step, [n]. Dense output of order 4.
    void calc_state(double t, double* y) const {
        know_dense();
        const double s = (t - t_old_) / h_;
        for (std::size_t i = 0; i < n_; ++i)
            y[i] = y_[i] * (1 - s)
                   + s * (y_new_[i] + (1 - s) * (dense_[0][i] + s * (dense_[1][i] + s * dense_[2][i])));
    }
    void calc_state(double t, state_type& y) const {
        y.resize(static_cast<Eigen::Index>(n_));
        calc_state(t, y.data());
    }

    /// States at the ends of the last step, [n]; valid until the next one.
    Eigen::Map<const state_type> current_state() const { return map(y_new_); }
    Eigen::Map<const state_type> previous_state() const { return map(y_); }
    double current_time() const { return t_; }
    double previous_time() const { return t_old_; }
    double current_time_step() const { return step_; }
    const Tally& tally() const { return tally_; }

  private:
    // The plain controller of Hairer and Wanner, "Solving Ordinary Differential Equations II" (1996), section
    // IV.8: the embedded solution has order 4, so the error of a step grows with the fifth power of its
    // length. The safety factor is lower than the usual 0.9: here errors jump from step to step, and at 0.75
    // the same accuracy costs 10 to 20 % fewer attempts, of which 5 to 10 % are rejected in place of 20 to 25.
    static constexpr double order = 5, safety = 0.75, least_growth = 0.2, most_growth = 6;

    struct Part {
        std::size_t begin, end;
        double share; ///< 1 / number of states
    };

    Eigen::Map<const state_type> map(const std::vector<double>& y) const {
        return {y.data(), static_cast<Eigen::Index>(n_)};
    }

    /// One attempt of length h; returns the error in units of the tolerance, infinity if it broke down.
    double attempt(const S& system, double h) {
        const auto& lu = system.lu();
        const double* j = jacobian_.data();
        for (std::size_t i = 0; i < matrix_.size(); ++i)
            matrix_[i] = -j[i];
        for (const auto at : lu.diagonal())
            matrix_[at] += 1 / (h * rodas5p::gamma);
        ++tally_.factorisations;
        if (!lu.factor(matrix_.data()))
            return std::numeric_limits<double>::infinity();
        first_stage(lu, h);
        stage<1>(system, h);
        stage<2>(system, h);
        stage<3>(system, h);
        stage<4>(system, h);
        stage<5>(system, h);
        stage<6>(system, h);
        stage<7>(system, h);
        tally_.rates += rodas5p::stages - 1;
        return add_last_stage();
    }

    void first_stage(const SparseLu& lu, double h) {
        double* k = k_[0].data();
        const double* slope = jacobian_.data() + lu.entries();
        const double hd = h * rodas5p::d[0];
        for (std::size_t s = 0; s < n_; ++s)
            k[s] = first_rate_[s] + hd * slope[s];
        lu.solve(matrix_.data(), k);
    }

    template <std::size_t I> void stage(const S& system, double h) {
        double* __restrict at = stage_.data();
        double* __restrict k = k_[I].data();
        const double* __restrict y = y_.data();
        std::array<const double*, I> before;
        for (std::size_t j = 0; j < I; ++j)
            before[j] = k_[j].data();
        if constexpr (I < 6) {
            for (std::size_t s = 0; s < padded_; ++s) {
                double sum = y[s];
                for (std::size_t j = 0; j < I; ++j)
                    sum += rodas5p::a[I][j] * before[j][s];
                at[s] = sum;
            }
        } else { // stages 7 and 8 and the solution itself each add the increment before
            const double* __restrict last = before[I - 1];
            for (std::size_t s = 0; s < padded_; ++s)
                at[s] += last[s];
        }
        system.rates(t_old_ + rodas5p::alpha[I] * h, at, rate_.data());
        const double inverse = 1 / h;
        const double* __restrict rate = rate_.data();
        const double* __restrict slope = jacobian_.data() + system.lu().entries();
        for (std::size_t s = 0; s < n_; ++s) {
            double sum = 0;
            for (std::size_t j = 0; j < I; ++j)
                sum += rodas5p::c[I][j] * before[j][s];
            k[s] = rate[s] + inverse * sum;
            if constexpr (rodas5p::d[I] != 0)
                k[s] += h * rodas5p::d[I] * slope[s];
        }
        system.lu().solve(matrix_.data(), k);
    }

    double add_last_stage() {
        const double* error = k_[7].data();
        for (std::size_t s = 0; s < padded_; ++s)
            y_new_[s] = stage_[s] + error[s];
        double worst = 0;
        for (const auto& part : parts_) {
            double sum = 0;
            for (std::size_t s = part.begin; s < part.end; ++s) {
                const double size = std::max({typical_[s], std::abs(y_[s]), std::abs(y_new_[s])});
                const double e = error[s] / size;
                sum += e * e;
            }
            sum *= part.share;
            worst = sum < worst ? worst : sum; // keeps a NaN
            if (std::isnan(sum))
                return std::numeric_limits<double>::infinity();
        }
        return std::sqrt(worst) / tolerance_.relative;
    }

    void know_dense() const {
        if (dense_known_)
            return;
        for (std::size_t r = 0; r < 3; ++r)
            for (std::size_t s = 0; s < padded_; ++s) {
                double sum = 0;
                for (std::size_t j = 0; j < rodas5p::stages; ++j)
                    sum += rodas5p::h[r][j] * k_[j][s];
                dense_[r][s] = sum;
            }
        dense_known_ = true;
    }

    /// Says which state allows no step from t_old_, and why. Not on the hot path.
    IntegrationFailure failure(const S& system) {
        std::copy(y_.begin(), y_.end(), y_new_.begin());
        const auto& lu = system.lu();
        const auto in = [&](std::size_t state, const char* why) {
            return IntegrationFailure(t_old_, system.model().states()[state].name, why);
        };
        constexpr auto rate =
            "its rate of change is not a number; suspect a value out of the range of its equation";
        constexpr auto slope =
            "the derivative of its rate is not a number; suspect the root or power of a zero in "
            "its equation";
        for (std::size_t i = 0; i < n_; ++i)
            if (!std::isfinite(first_rate_[i]))
                return in(i, rate);
        for (const auto& [entry, at] : lu.positions())
            if (!std::isfinite(jacobian_[at]) || !std::isfinite(jacobian_[lu.entries() + entry.first]))
                return in(entry.first, slope);
        if (const auto broken = first_broken(system); broken < n_)
            return in(broken, rate);
        std::size_t worst = 0;
        for (std::size_t i = 1; i < n_; ++i)
            if (weighed_error(i) > weighed_error(worst))
                worst = i;
        return in(worst,
                  "its error stays above the tolerance however short the step; suspect a part that is far "
                  "too stiff or light, or a value that runs away");
    }

    /// Repeats the last attempt stage by stage; the first state whose rate is not a number, n_ if there is
    /// none.
    std::size_t first_broken(const S& system) {
        const Tally real_work = tally_;
        attempt(system, h_);
        tally_ = real_work;
        std::size_t broken = n_;
        const auto look = [&] {
            for (std::size_t i = 0; i < n_ && broken == n_; ++i)
                if (!std::isfinite(rate_[i]))
                    broken = i;
        };
        [&]<std::size_t... I>(std::index_sequence<I...>) { ((stage<I + 1>(system, h_), look()), ...); }
        (std::make_index_sequence<rodas5p::stages - 1>{});
        return broken;
    }

    double weighed_error(std::size_t i) const {
        return std::abs(k_[7][i]) / std::max(typical_[i], std::abs(y_[i]));
    }

    std::size_t n_, padded_;
    Tolerance tolerance_;
    std::vector<Part> parts_;
    std::vector<double> typical_;
    std::vector<double> y_, y_new_, stage_, rate_,
        first_rate_; ///< state before and after the last step, scratch
    std::array<std::vector<double>, rodas5p::stages> k_;
    std::vector<double> jacobian_, matrix_;
    mutable std::array<std::vector<double>, 3> dense_;
    mutable bool dense_known_ = false;
    double t_ = 0, t_old_ = 0, h_ = 0, step_ = 0;
    Tally tally_;
};

} // namespace needleturn::sim
