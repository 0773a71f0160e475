/// A model driven by schedules, ready to be stepped: right-hand side, exact Jacobian and sparsity pattern, all from
/// the model's elements (sim/contract/model.h).
#pragma once

#include "sim/contract/model.h"
#include "sim/contract/schedule.h"
#include "sim/dual.h"
#include "sim/sparse_lu.h"

#include <Eigen/Core>

#include <algorithm>
#include <cstddef>
#include <set>
#include <stdexcept>
#include <utility>
#include <vector>

namespace needleturn::sim {

/// y' = f(y, d(t)) with states y (as stored) and drives d. The model must outlive the system.
template <Model M> class System {
  public:
    /// One schedule per drive, in the order of the model's drives.
    System(const M& model, std::vector<Schedule> schedules)
        : model_{&model}, schedules_{std::move(schedules)} {
        if (schedules_.size() != model.drives().size())
            throw std::invalid_argument("one schedule per drive is needed");
        const auto n = size();
        std::vector<SparseLu::Entry> pattern;
        model.visit_elements([&](const auto& read, const auto& written, const auto&) {
            for (const auto row : written)
                for (const auto column : read)
                    if (column < n)
                        pattern.emplace_back(row, column);
        });
        lu_ = SparseLu(n, pattern);
        model.visit_elements([&](const auto& read, const auto& written, const auto&) {
            for (const auto row : written)
                for (const auto column : read)
                    // A drive's column is the derivative with respect to time; it lives behind the matrix.
                    scatter_.push_back(static_cast<SparseLu::Index>(column < n ? lu_.position(row, column)
                                                                               : lu_.entries() + row));
        });
        values_.resize(n + schedules_.size());
        seeds_.resize(n + schedules_.size());
        rate_.resize(n);
        enter(0);
    }

    System(const M&&, std::vector<Schedule>) = delete; // a temporary model would not outlive it

    const M& model() const { return *model_; }
    std::size_t size() const { return model_->states().size(); }
    const SparseLu& lu() const { return lu_; }
    const std::vector<Schedule>& schedules() const { return schedules_; }

    /// Other schedules from now on: a hand has turned something. Enter the instant afterwards.
    void replace(std::vector<Schedule> schedules) {
        if (schedules.size() != schedules_.size())
            throw std::invalid_argument("one schedule per drive is needed");
        schedules_ = std::move(schedules);
    }

    /// Takes the straight pieces of all schedules that hold just after t. Valid until the next breakpoint.
    void enter(double t) {
        ramps_.clear();
        for (const auto& schedule : schedules_)
            ramps_.push_back(schedule.piece(t));
    }

    /// Corners of all schedules strictly between begin and end, ascending.
    std::vector<double> breakpoints(double begin, double end) const {
        std::set<double> times;
        for (const auto& schedule : schedules_)
            for (const double t : schedule.breakpoints())
                if (t > begin && t < end)
                    times.insert(t);
        return {times.begin(), times.end()};
    }

    /// Values of states and drives, [n + drives], from the states as stored.
    void values(double t, const double* stored, double* values) const {
        std::copy_n(stored, size(), values);
        model_->visit_storages([&](std::size_t i, const auto& law) { values[i] = law(stored[i]); });
        for (std::size_t j = 0; j < ramps_.size(); ++j)
            values[size() + j] = ramps_[j](t);
    }

    /// Right-hand side: rate[n] = f(stored, d(t)).
    void rates(double t, const double* stored, double* rate) const {
        values(t, stored, values_.data());
        std::fill_n(rate, size(), 0.0);
        const double* value = values_.data();
        model_->visit_elements([&](const auto& read, const auto& written, const auto& law) {
            const auto contribution =
                call(law, read, [value](std::size_t i, std::size_t) { return value[i]; });
            for (std::size_t k = 0; k < written.size(); ++k)
                rate[written[k]] += contribution[k];
        });
    }

    /// Exact Jacobian df/dy in the layout of lu(), and df/dt[n].
    /// `matrix` must have room for lu().entries() + size() numbers: df/dt follows the matrix.
    void jacobian(double t, const double* stored, double* matrix) const {
        linearise(t, stored, rate_.data(), matrix);
    }

    /// Rates and Jacobian of one instant, for little more than the price of the Jacobian: the dual numbers carry
    /// both. The rates are those of rates() but for rounding.
    void linearise(double t, const double* stored, double* rate, double* matrix) const {
        values(t, stored, values_.data());
        std::fill_n(rate, size(), 0.0);
        std::fill_n(seeds_.data(), size(), 1.0);
        model_->visit_storages([&](std::size_t i, const auto& law) {
            seeds_[i] = law(Dual<double, 1>(stored[i], 0, 1.0)).slope[0];
        });
        for (std::size_t j = 0; j < ramps_.size(); ++j)
            seeds_[size() + j] = ramps_[j].slope;
        std::fill_n(matrix, lu_.entries() + size(), 0.0);
        const SparseLu::Index* target = scatter_.data();
        const double* value = values_.data();
        const double* seed = seeds_.data();
        model_->visit_elements([&](const auto& read, const auto& written, const auto& law) {
            constexpr auto inputs = std::tuple_size_v<std::decay_t<decltype(read)>>;
            const auto contribution = call(law, read, [value, seed](std::size_t i, std::size_t k) {
                return Dual<double, inputs>(value[i], k, seed[i]);
            });
            for (std::size_t k = 0; k < written.size(); ++k) {
                rate[written[k]] += contribution[k].value;
                for (std::size_t j = 0; j < inputs; ++j)
                    matrix[*target++] += contribution[k].slope[j];
            }
        });
    }

    /// The Jacobian as a dense matrix, for analyses of a single instant.
    Eigen::MatrixXd dense_jacobian(double t, const double* stored) const {
        std::vector<double> matrix(lu_.entries() + size());
        jacobian(t, stored, matrix.data());
        const auto n = static_cast<Eigen::Index>(size());
        Eigen::MatrixXd dense = Eigen::MatrixXd::Zero(n, n);
        for (const auto& [entry, at] : lu_.positions())
            dense(static_cast<Eigen::Index>(entry.first), static_cast<Eigen::Index>(entry.second)) =
                matrix[at];
        return dense;
    }

  private:
    /// law(input(read[0], 0), input(read[1], 1), ...)
    template <class Law, std::size_t N, class Input>
    static auto call(const Law& law, const std::array<std::size_t, N>& read, const Input& input) {
        return [&]<std::size_t... K>(std::index_sequence<K...>) { return law(input(read[K], K)...); }
        (std::make_index_sequence<N>{});
    }

    const M* model_;
    std::vector<Schedule> schedules_;
    std::vector<Ramp> ramps_;
    SparseLu lu_;
    std::vector<SparseLu::Index> scatter_; ///< where each derivative of each element goes, in visiting order
    mutable std::vector<double> values_;   ///< scratch: a system belongs to one thread
    mutable std::vector<double> seeds_;
    mutable std::vector<double> rate_;
};

} // namespace needleturn::sim
