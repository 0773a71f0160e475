/// Small models for tests: a single law that reads every state and drive and gives the rate of every state.
#pragma once

#include "sim/contract/model.h"

#include <array>
#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace needleturn::tests {

/// `law(v)` takes an array of N states and D drives and returns an array of N rates, for any scalar type.
template <std::size_t N, std::size_t D, class Law> class SmallModel {
  public:
    SmallModel(const std::array<double, N>& typical, Law law) : law_{std::move(law)} {
        for (std::size_t i = 0; i < N; ++i) {
            std::string name = "small.y";
            name += std::to_string(i + 1);
            states_.push_back({name, "1", typical[i], "", Role::dynamic});
        }
        for (std::size_t j = 0; j < D; ++j) {
            std::string name = "drive.";
            name += std::to_string(j + 1);
            drives_.push_back({name, "1", 1, "", Role::dynamic});
        }
    }

    const std::vector<Quantity>& states() const { return states_; }
    const std::vector<Quantity>& drives() const { return drives_; }
    const std::vector<Quantity>& signals() const { return signals_; }
    void observe(std::span<const double>, std::span<double>) const {}

    template <class On> void visit_storages(On&&) const {}
    template <class On> void visit_elements(On&& on) const {
        on(first<N + D>(), first<N>(), [this](auto... v) { return law_(std::array{v...}); });
    }

  private:
    template <std::size_t K> static constexpr std::array<std::size_t, K> first() {
        std::array<std::size_t, K> index{};
        for (std::size_t i = 0; i < K; ++i)
            index[i] = i;
        return index;
    }

    Law law_;
    std::vector<Quantity> states_, drives_, signals_;
};

/// A model of N states of these typical sizes and D drives.
template <std::size_t D = 0, std::size_t N, class Law>
SmallModel<N, D, Law> small_model(const std::array<double, N>& typical, Law law) {
    return {typical, std::move(law)};
}

} // namespace needleturn::tests
