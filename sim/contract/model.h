/// What the numerics of sim/ ask of a model, and all that they know of it.
///
/// A model is a set of ordinary differential equations written once, as *elements*. An element reads a few values
/// and adds to the rates of a few states:
///
///     on(reads(inlet, outlet, lift), writes(inlet, outlet),
///        [&](auto p1, auto p2, auto x) { const auto q = trim.flow(p1 - p2, x); return rates(-q / C1, q / C2); });
///
/// sim/assembly.h walks the elements: with `double` they are the right-hand side, with a dual number of just the
/// inputs of one element they are its block of the exact Jacobian, and their indices are the sparsity pattern.
///
/// Values are indexed like this: first the states (state i has value i), then the drives, the known functions of
/// time (drive j has value `number of states + j`). Elements never see time itself.
///
/// A *storage* is a state whose value is a function of what is stored: a pressure point stores volume and its value
/// is the pressure that this volume makes. `visit_storages` calls `on(state, law)` with law(stored) -> value. States
/// without a storage are their own value.
///
///     const std::vector<Quantity>& states() const;      // the state table
///     const std::vector<Quantity>& drives() const;      // the known functions of time
///     const std::vector<Quantity>& signals() const;     // what else is worth recording
///     template <class On> void visit_storages(On&& on) const;
///     template <class On> void visit_elements(On&& on) const;
///     void observe(std::span<const double> values, std::span<double> signals) const;
#pragma once

#include "sim/contract/quantity.h"

#include <array>
#include <concepts>
#include <cstddef>
#include <span>
#include <vector>

namespace needleturn {

/// Indices of the values an element reads.
template <class... I> constexpr std::array<std::size_t, sizeof...(I)> reads(I... index) {
    return {static_cast<std::size_t>(index)...};
}

/// Indices of the states an element adds to.
template <class... I> constexpr std::array<std::size_t, sizeof...(I)> writes(I... index) {
    return {static_cast<std::size_t>(index)...};
}

/// What an element adds to d/dt of the states in its `writes`, in the same order.
template <class S, class... R> constexpr std::array<S, 1 + sizeof...(R)> rates(S first, R... others) {
    return {first, S(others)...};
}

template <class M>
concept Model = requires(const M& model, std::span<const double> values, std::span<double> out) {
    { model.states() } -> std::convertible_to<const std::vector<Quantity>&>;
    { model.drives() } -> std::convertible_to<const std::vector<Quantity>&>;
    { model.signals() } -> std::convertible_to<const std::vector<Quantity>&>;
    model.observe(values, out);
};

} // namespace needleturn
