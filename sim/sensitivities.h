/// Sensitivities: how the states of a run change with parameters, K at a time, from the same equations as the run itself.
///
/// The model's parameters are dual numbers (its P = Dual<double, K>), seeded with their slopes by the K parameters asked for.
/// Each stage of a step (sim/rodas5p_step.h) is then differentiated as it stands: with W k = r also W k' = r' - W' k, where W
/// has been factored for k already. W' holds the second derivatives, which dual numbers of dual numbers give. So the
/// sensitivities are the exact derivatives of what the method computes with the steps that it took, of its order, and
/// the same in dense output. Step lengths are those of the error control and are not differentiated; breakpoints stay where
/// they are. (H. G. Bock, "Recent advances in parameter identification techniques for O.D.E.", 1983, calls this internal
/// numerical differentiation; from memory.)
///
/// At a jump of a drive states do not jump, and neither do sensitivities. Who changes states by hand between two calls changes
/// their slopes by the same rule.
#pragma once

#include "sim/assembly.h"
#include "sim/dual_pairs.h"
#include "sim/growth_watch.h"
#include "sim/recording.h"
#include "sim/rodas5p.h"
#include "sim/rodas5p_step.h"
#include "sim/sparse_lu.h"

#include <Eigen/Core>
#include <Eigen/LU>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <iterator>
#include <limits>
#include <stdexcept>
#include <utility>
#include <vector>

namespace needleturn::sim {

/// K numbers side by side, two by two.
template <std::size_t K> class Abreast {
  public:
    Abreast() = default;
    explicit Abreast(double all) {
        for (auto& two : pairs_)
            two = Pair{all, all};
    }
    double get(std::size_t k) const { return pairs_[k / 2][k % 2]; }
    void set(std::size_t k, double x) { pairs_[k / 2][k % 2] = x; }
    Abreast& operator-=(const Abreast& b) {
        for (std::size_t i = 0; i < pairs_.size(); ++i)
            pairs_[i] -= b.pairs_[i];
        return *this;
    }
    friend Abreast operator*(const Abreast& a, const Abreast& b) {
        Abreast product;
        for (std::size_t i = 0; i < a.pairs_.size(); ++i)
            product.pairs_[i] = a.pairs_[i] * b.pairs_[i];
        return product;
    }

  private:
    using Pair = double __attribute__((vector_size(16)));
    std::array<Pair, (K + 1) / 2> pairs_{};
};

/// SparseLu of matrices of dual numbers: their values are factored, and serve the slopes too. Scratch within.
template <std::size_t K> class DualLu {
  public:
    using T = Dual<double, K>;

    explicit DualLu(const SparseLu& lu)
        : lu_{&lu}, values_(lu.entries()), right_(lu.size()), abreast_(lu.entries()), sides_(lu.size()) {
        for (const auto& [entry, at] : lu.positions())
            places_.push_back({entry.first, entry.second, at});
    }

    std::size_t entries() const { return lu_->entries(); }
    const std::vector<SparseLu::Index>& diagonal() const { return lu_->diagonal(); }

    /// Factors the values of `matrix`, which itself stays as it is.
    bool factor(const T* matrix) const {
        for (std::size_t i = 0; i < values_.size(); ++i)
            values_[i] = matrix[i].value;
        const bool sound = lu_->factor(values_.data());
        for (std::size_t i = 0; i < values_.size(); ++i)
            abreast_[i] = Abreast<K>(values_[i]);
        return sound;
    }

    /// Replaces b by the solution, for the matrix last factored.
    void solve(const T* matrix, T* b) const {
        const std::size_t n = right_.size();
        for (std::size_t i = 0; i < n; ++i)
            right_[i] = b[i].value;
        lu_->solve(values_.data(), right_.data());
        for (std::size_t i = 0; i < n; ++i)
            b[i].value = right_[i];
        for (std::size_t i = 0; i < n; ++i)
            for (std::size_t k = 0; k < K; ++k)
                sides_[i].set(k, b[i].slope[k]);
        for (const auto& place : places_)
            for (std::size_t k = 0; k < K; ++k)
                sides_[place.row].set(k, sides_[place.row].get(k)
                                             - matrix[place.at].slope[k] * b[place.column].value);
        lu_->solve(abreast_.data(), sides_.data());
        for (std::size_t i = 0; i < n; ++i)
            for (std::size_t k = 0; k < K; ++k)
                b[i].slope[k] = sides_[i].get(k);
    }

  private:
    struct Place {
        std::size_t row, column, at;
    };
    const SparseLu* lu_;
    std::vector<Place> places_;
    mutable std::vector<double> values_, right_;
    mutable std::vector<Abreast<K>> abreast_, sides_; ///< of the matrix last factored; right sides
};

/// A model with parameters of dual numbers, driven by schedules; it must outlive the system.
template <Model M, std::size_t K> class SensitiveSystem : public Assembly<M, Dual<double, K>> {
  public:
    using T = Dual<double, K>;

    /// Schedules and breakpoints are those of `plain`, the System of the same run.
    template <class S> SensitiveSystem(const M& model, const S& plain)
        : Assembly<M, T>{model},
          dual_lu_{Assembly<M, T>::lu()},
          schedules_{plain.schedules()},
          moves_(schedules_.size()),
          corners_{plain.breakpoints(-std::numeric_limits<double>::infinity(),
                                     std::numeric_limits<double>::infinity())} {
        enter(0);
    }

    /// Drive `j` moves as a whole by `slope` per unit of parameter k. Enter the instant afterwards.
    void move_drive(std::size_t j, std::size_t k, double slope) { moves_[j][k] = slope; }

    /// Drive `j` is, per unit of parameter k, (above - below) / width more: two schedules with the corners of its own. Enter the
    /// instant afterwards.
    void bend_drive(std::size_t j, std::size_t k, Schedule above, Schedule below, double width) {
        bends_.push_back({j, k, std::move(above), std::move(below), width});
    }

    const DualLu<K>& lu() const { return dual_lu_; }
    const SparseLu& plain_lu() const { return Assembly<M, T>::lu(); }

    /// As System::enter.
    void enter(double t) {
        for (std::size_t j = 0; j < schedules_.size(); ++j) {
            const auto piece = schedules_[j].piece(t);
            auto& ramp = this->ramps()[j];
            ramp = {T(piece.begin), T(piece.value), T(piece.slope)};
            ramp.value.slope = moves_[j];
        }
        for (const auto& bend : bends_) {
            const auto above = bend.above.piece(t), below = bend.below.piece(t);
            auto& ramp = this->ramps()[bend.drive];
            ramp.value.slope[bend.parameter] += (above.value - below.value) / bend.width;
            ramp.slope.slope[bend.parameter] += (above.slope - below.slope) / bend.width;
        }
    }
    std::vector<double> breakpoints(double begin, double end) const {
        std::vector<double> within;
        std::ranges::copy_if(corners_, std::back_inserter(within),
                             [&](double t) { return t > begin && t < end; });
        return within;
    }
    double longest_on_piece(double t, double length) const {
        std::vector<Ramp> pieces;
        for (const auto& schedule : schedules_)
            pieces.push_back(schedule.piece(t));
        return growth::longest_on_piece(pieces, length);
    }

  private:
    struct Bend {
        std::size_t drive, parameter;
        Schedule above, below;
        double width;
    };
    DualLu<K> dual_lu_;
    std::vector<Bend> bends_;
    std::vector<Schedule> schedules_;
    std::vector<std::array<double, K>> moves_; ///< of the drives, per unit of each parameter
    std::vector<double> corners_;
};

/// Steps a SensitiveSystem as Rodas5P steps a System.
template <Model M, std::size_t K> class SensitiveStepper {
  public:
    using System = SensitiveSystem<M, K>;
    using T = Dual<double, K>;

    /// `sizes` of the parameters, in their units: errors of sensitivities are weighed as those of the states are, for changes
    /// of the parameters of these sizes. 0: of this one errors are not controlled.
    SensitiveStepper(const System& system, Tolerance tolerance, const std::array<double, K>& sizes)
        : system_{&system},
          tolerance_{tolerance.relative},
          sizes_{sizes},
          step_{system},
          watch_(system.model().states(), system.plain_lu()),
          jacobian_(system.plain_lu().entries()) {
        if (!(tolerance.relative > 0))
            throw std::invalid_argument("the tolerance must be above 0");
    }

    /// Starts anew at (t, y): at the beginning and after every breakpoint. On the piece that begins no step is longer than
    /// `on_piece`, s.
    void initialize(const std::vector<T>& y, double t, double first_step, double on_piece) {
        std::ranges::copy(y, step_.y.begin());
        std::ranges::copy(y, step_.y_new.begin());
        t_ = t_old_ = t;
        next_ = first_step;
        watch_.begin(0, on_piece);
        ++counts_.restarts;
    }

    /// Makes one accepted step, at most to `limit`. Throws IntegrationFailure when no step is short enough.
    void do_step(double limit) {
        if (t_ > t_old_)
            std::swap(step_.y, step_.y_new);
        t_old_ = t_;
        step_.linearise(*system_, T(t_));
        ++counts_.jacobians;
        ++counts_.rates;
        for (std::size_t i = 0; i < jacobian_.size(); ++i)
            jacobian_[i] = step_.jacobian[i].value;
        const double longest = watch_.longest(jacobian_.data(), next_);
        for (bool retry = false;; retry = true) {
            const double left = limit - t_old_;
            h_ = rodas5p::length(std::min(next_, longest), left);
            if (h_ < 1e-13 * std::max(1.0, std::abs(t_old_)) && h_ < left)
                throw IntegrationFailure(t_old_, system_->model().states()[worst_].name,
                                         "no step is short enough for it and its sensitivities");
            ++counts_.factorisations;
            counts_.rates += rodas5p::stages - 1;
            const double error = attempt();
            const bool taken = error <= 1;
            next_ = rodas5p::next_due(h_, next_, error, taken, retry);
            if (taken) {
                ++counts_.steps;
                t_ = h_ == left ? limit : t_old_ + h_;
                dense_known_ = false;
                return;
            }
            ++counts_.rejected;
        }
    }

    /// States with their sensitivities as slopes, at the end of the last step and at a time within it, as stored.
    std::vector<T> current_state() const {
        return {step_.y_new.begin(), step_.y_new.begin() + static_cast<std::ptrdiff_t>(step_.size())};
    }
    std::vector<T> state_at(double t) {
        if (!dense_known_)
            step_.know_dense();
        dense_known_ = true;
        const double s = (t - t_old_) / h_;
        std::vector<T> y(step_.size());
        for (std::size_t i = 0; i < y.size(); ++i) {
            y[i] = T(step_.interpolated(i, s, [](const T& of) { return of.value; }));
            for (std::size_t k = 0; k < K; ++k)
                y[i].slope[k] = step_.interpolated(i, s, [k](const T& of) { return of.slope[k]; });
        }
        return y;
    }

    double current_time() const { return t_; }
    double previous_time() const { return t_old_; }
    const Counts& counts() const { return counts_; } ///< since it was made

  private:
    /// One attempt of length h_; the error in units of the tolerance, infinity if it broke down.
    double attempt() {
        const double of_states = std::sqrt(step_.attempt(*system_, T(t_old_), T(h_)).value);
        double worst = of_states;
        bool sound = !std::isnan(of_states);
        for (std::size_t i = 0; i < step_.size(); ++i) {
            if (system_->model().states()[i].role == Role::meter)
                continue;
            const auto& error = step_.error()[i];
            const double size = std::max(
                {step_.typical()[i].value, std::abs(step_.y[i].value), std::abs(step_.y_new[i].value)});
            for (std::size_t k = 0; k < K; ++k) {
                const double moved =
                    std::max(std::abs(step_.y[i].slope[k]), std::abs(step_.y_new[i].slope[k]));
                const double relative =
                    sizes_[k] * std::abs(error.slope[k]) / std::max(size, sizes_[k] * moved);
                sound = sound && std::isfinite(error.slope[k]);
                if (relative > worst) {
                    worst = relative;
                    worst_ = i;
                }
            }
        }
        return sound ? worst / tolerance_ : std::numeric_limits<double>::infinity();
    }

    const System* system_;
    double tolerance_;
    std::array<double, K> sizes_;
    Rodas5PStep<System> step_;
    GrowthWatch<double> watch_;
    std::vector<double> jacobian_;
    std::size_t worst_ = 0; ///< the state that last held steps back
    bool dense_known_ = false;
    double t_ = 0, t_old_ = 0, h_ = 0, next_ = 0;
    Counts counts_;
};

/// As integrate, with the sensitivities as slopes of `y`, [n]: at `begin` those of the initial states (steady_sensitivities, or
/// none), at `end` those of the result. `sizes`: as of SensitiveStepper. `observe(stepper)` is called after each step taken.
template <Model M, std::size_t K, class Observe>
void integrate_sensitivities(SensitiveSystem<M, K>& system, std::vector<Dual<double, K>>& y, double begin,
                             double end, Tolerance tolerance, const std::array<double, K>& sizes,
                             Counts& counts, Observe&& observe) {
    auto ends = system.breakpoints(begin, end);
    ends.push_back(end);
    SensitiveStepper<M, K> stepper(system, tolerance, sizes);
    double t = begin;
    for (const double limit : ends) {
        system.enter(t);
        constexpr double first_step = 1e-4; // as in integrate
        stepper.initialize(y, t, std::min(first_step, limit - t), system.longest_on_piece(t, limit - t));
        while (stepper.current_time() < limit) {
            stepper.do_step(limit);
            observe(stepper);
        }
        y = stepper.current_state();
        t = limit;
    }
    counts = counts + stepper.counts();
}

/// Sensitivities of the steady state `y` at time t: J y' = -df/dp over its dynamic states. Amounts (trapped air) and meters
/// keep the slopes that `y` has.
template <Model M, std::size_t K>
void steady_sensitivities(SensitiveSystem<M, K>& system, double t, std::vector<Dual<double, K>>& y) {
    using T = Dual<double, K>;
    system.enter(t);
    const auto& states = system.model().states();
    std::vector<std::size_t> dynamic;
    for (std::size_t i = 0; i < states.size(); ++i)
        if (states[i].role == Role::dynamic) {
            dynamic.push_back(i);
            y[i].slope = {};
        }
    std::vector<T> rate(y.size()), entries(system.plain_lu().entries() + y.size());
    system.linearise(T(t), y.data(), rate.data(), entries.data());
    const auto n = static_cast<Eigen::Index>(dynamic.size());
    Eigen::MatrixXd jacobian = Eigen::MatrixXd::Zero(n, n), right(n, static_cast<Eigen::Index>(K));
    const auto& positions = system.plain_lu().positions();
    for (Eigen::Index row = 0; row < n; ++row) {
        const auto i = dynamic[static_cast<std::size_t>(row)];
        for (Eigen::Index column = 0; column < n; ++column) { // in units of the typical sizes
            const auto j = dynamic[static_cast<std::size_t>(column)];
            if (const auto found = positions.find({i, j}); found != positions.end())
                jacobian(row, column) = entries[found->second].value * states[j].typical / states[i].typical;
        }
        for (std::size_t k = 0; k < K; ++k)
            right(row, static_cast<Eigen::Index>(k)) = -rate[i].slope[k] / states[i].typical;
    }
    // Rates of fast and of slow states differ by many powers of ten: each equation in units of its largest entry.
    for (Eigen::Index row = 0; row < n; ++row) {
        const double largest = jacobian.row(row).cwiseAbs().maxCoeff();
        if (!(largest > 0))
            continue;
        jacobian.row(row) /= largest;
        right.row(row) /= largest;
    }
    const Eigen::MatrixXd slopes = jacobian.fullPivLu().solve(right);
    for (Eigen::Index row = 0; row < n; ++row)
        for (std::size_t k = 0; k < K; ++k) {
            const auto i = dynamic[static_cast<std::size_t>(row)];
            y[i].slope[k] = slopes(row, static_cast<Eigen::Index>(k)) * states[i].typical;
        }
}

} // namespace needleturn::sim
