/// Assembly: a model's elements (sim/contract/model.h) put together into right-hand side, exact Jacobian and sparsity
/// pattern, for one run or, with a pack as T, for several side by side, each with its own time and drives.
#pragma once

#include "sim/contract/model.h"
#include "sim/contract/schedule.h"
#include "sim/dual.h"
#include "sim/sparse_lu.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <tuple>
#include <type_traits>
#include <utility>
#include <vector>

namespace needleturn::sim {

/// y' = f(y, d(t)) with states y (as stored) and drives d, on straight pieces of the drives' schedules. The model must
/// outlive the assembly. Scratch within: an assembly belongs to one thread.
template <Model M, class T = double> class Assembly {
  public:
    using Scalar = T;

    explicit Assembly(const M& model);
    explicit Assembly(const M&&) = delete; // a temporary model would not outlive it

    const M& model() const { return *model_; }
    std::size_t size() const { return model_->states().size(); }
    const SparseLu& lu() const { return lu_; }

    /// The straight pieces of the drives that hold now, in the order of the model's drives.
    std::vector<RampOf<T>>& ramps() { return ramps_; }
    const std::vector<RampOf<T>>& ramps() const { return ramps_; }

    /// Values of states and drives, [n + drives], from the states as stored.
    void values(const T& t, const T* stored, T* values) const;

    /// Right-hand side: rate[n] = f(stored, d(t)).
    void rates(const T& t, const T* stored, T* rate) const;

    /// Exact Jacobian df/dy in the layout of lu(), and df/dt[n].
    /// `matrix` must have room for lu().entries() + size() numbers: df/dt follows the matrix.
    void jacobian(const T& t, const T* stored, T* matrix) const {
        linearise(t, stored, rate_.data(), matrix);
    }

    /// Rates and Jacobian of one instant, for little more than the price of the Jacobian: the dual numbers carry
    /// both. The rates are those of rates() but for rounding.
    void linearise(const T& t, const T* stored, T* rate, T* matrix) const;

  private:
    /// law(input(read[0], 0), input(read[1], 1), ...)
    template <class Law, std::size_t N, class Input>
    static auto call(const Law& law, const std::array<std::size_t, N>& read, const Input& input) {
        return [&]<std::size_t... K>(std::index_sequence<K...>) { return law(input(read[K], K)...); }
        (std::make_index_sequence<N>{});
    }

    const M* model_;
    std::vector<RampOf<T>> ramps_;
    SparseLu lu_;
    std::vector<SparseLu::Index> scatter_; ///< where each derivative of each element goes, in visiting order
    mutable std::vector<T> values_;
    mutable std::vector<T> seeds_;
    mutable std::vector<T> rate_;
};

// Outside of the class, so that they are no inline functions: `extern template` then leaves them to the one file that
// instantiates them (tools/studies/station_system.h).

template <Model M, class T> Assembly<M, T>::Assembly(const M& model) : model_{&model} {
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
    values_.resize(n + model.drives().size());
    seeds_.resize(n + model.drives().size());
    rate_.resize(n);
    ramps_.resize(model.drives().size());
}

template <Model M, class T> void Assembly<M, T>::values(const T& t, const T* stored, T* values) const {
    std::copy_n(stored, size(), values);
    model_->visit_storages([&](std::size_t i, const auto& law) { values[i] = law(stored[i]); });
    for (std::size_t j = 0; j < ramps_.size(); ++j)
        values[size() + j] = ramps_[j](t);
}

template <Model M, class T> void Assembly<M, T>::rates(const T& t, const T* stored, T* rate) const {
    values(t, stored, values_.data());
    std::fill_n(rate, size(), T(0.0));
    const T* value = values_.data();
    model_->visit_elements([&](const auto& read, const auto& written, const auto& law) {
        const auto contribution = call(law, read, [value](std::size_t i, std::size_t) { return value[i]; });
        for (std::size_t k = 0; k < written.size(); ++k)
            rate[written[k]] += contribution[k];
    });
}

template <Model M, class T>
void Assembly<M, T>::linearise(const T& t, const T* stored, T* rate, T* matrix) const {
    values(t, stored, values_.data());
    std::fill_n(rate, size(), T(0.0));
    std::fill_n(seeds_.data(), size(), T(1.0));
    model_->visit_storages(
        [&](std::size_t i, const auto& law) { seeds_[i] = law(Dual<T, 1>(stored[i], 0, T(1.0))).slope[0]; });
    for (std::size_t j = 0; j < ramps_.size(); ++j)
        seeds_[size() + j] = ramps_[j].slope;
    std::fill_n(matrix, lu_.entries() + size(), T(0.0));
    const SparseLu::Index* target = scatter_.data();
    const T* value = values_.data();
    const T* seed = seeds_.data();
    model_->visit_elements([&](const auto& read, const auto& written, const auto& law) {
        constexpr auto inputs = std::tuple_size_v<std::decay_t<decltype(read)>>;
        const auto contribution = call(law, read, [value, seed](std::size_t i, std::size_t k) {
            return Dual<T, inputs>(value[i], k, seed[i]);
        });
        for (std::size_t k = 0; k < written.size(); ++k) {
            rate[written[k]] += contribution[k].value;
            for (std::size_t j = 0; j < inputs; ++j)
                matrix[*target++] += contribution[k].slope[j];
        }
    });
}

} // namespace needleturn::sim
