#include "sim/instant.h"

#include <cmath>
#include <optional>
#include <utility>

namespace needleturn::sim {

namespace {

using Eigen::Index;
using Triplets = std::vector<Eigen::Triplet<double>>;

std::vector<Index> of_role(const std::vector<Quantity>& states, bool held) {
    std::vector<Index> found;
    for (std::size_t i = 0; i < states.size(); ++i)
        if (states[i].role == Role::dynamic || (held && states[i].role == Role::held))
            found.push_back(static_cast<Index>(i));
    return found;
}

/// The entries between the states `chosen`, each in units of its typical size, by their places in `chosen`.
Triplets scaled(const std::vector<Quantity>& states, const std::vector<Index>& chosen, const SparseLu& lu,
                const double* entries) {
    std::vector<Index> place(states.size(), -1);
    for (std::size_t i = 0; i < chosen.size(); ++i)
        place[static_cast<std::size_t>(chosen[i])] = static_cast<Index>(i);
    Triplets result;
    for (const auto& [entry, at] : lu.positions()) {
        const auto& [row, column] = entry;
        if (place[row] >= 0 && place[column] >= 0 && entries[at] != 0)
            result.emplace_back(place[row], place[column],
                                entries[at] * (states[column].typical / states[row].typical));
    }
    return result;
}

void fill(Eigen::SparseMatrix<double>& matrix, const Triplets& entries, std::size_t size) {
    const auto n = static_cast<Index>(size);
    matrix.resize(n, n);
    matrix.setFromTriplets(entries.begin(), entries.end());
}

/// The one entry of a row beside its own term, which must be none; empty where there is another.
std::optional<Eigen::Triplet<double>> only_of_row(const Triplets& entries, Index row) {
    constexpr double none = 1e-6; // 1/s: of a stem that creeps, not one that slides
    std::optional<Eigen::Triplet<double>> only;
    for (const auto& entry : entries) {
        if (entry.row() != row || (entry.col() == row && std::abs(entry.value()) < none))
            continue;
        if (only || entry.col() == row)
            return {};
        only = entry;
    }
    return only;
}

} // namespace

Motion motion_of(const std::vector<Quantity>& states, const SparseLu& lu, const double* entries) {
    auto chosen = of_role(states, true);
    auto all = scaled(states, chosen, lu, entries);
    for (Index k = static_cast<Index>(chosen.size()) - 1; k >= 0; --k) {
        const auto quantity = [&](Index i) -> const Quantity& {
            return states[static_cast<std::size_t>(chosen[static_cast<std::size_t>(i)])];
        };
        if (quantity(k).role != Role::held)
            continue;
        const auto own = only_of_row(all, k);
        for (Index i = 0; own && i < static_cast<Index>(chosen.size()); ++i) {
            const auto other = quantity(i).role == Role::dynamic ? only_of_row(all, i) : std::nullopt;
            if (!other || other->col() != own->col())
                continue;
            Triplets without;
            const auto place = [k](Index at) { return at > k ? at - 1 : at; };
            for (const auto& entry : all) {
                if (entry.row() == k)
                    continue;
                const bool of_held = entry.col() == k;
                without.emplace_back(place(entry.row()), place(of_held ? i : entry.col()),
                                     of_held ? entry.value() * own->value() / other->value() : entry.value());
            }
            all = std::move(without);
            chosen.erase(chosen.begin() + k);
            break;
        }
    }
    Motion motion;
    fill(motion.jacobian, all, chosen.size());
    motion.states = std::move(chosen);
    return motion;
}

std::vector<Eigen::Index> Instant::dynamic_states() const { return of_role(states(), false); }

std::vector<double> Instant::entries(const Eigen::VectorXd& y) const {
    std::vector<double> matrix(lu_->entries() + states().size());
    jacobian_(y.data(), matrix.data());
    return matrix;
}

Eigen::SparseMatrix<double> Instant::scaled_jacobian(const Eigen::VectorXd& y) const {
    const auto dynamic = dynamic_states();
    Eigen::SparseMatrix<double> matrix;
    fill(matrix, scaled(states(), dynamic, *lu_, entries(y).data()), dynamic.size());
    return matrix;
}

Motion Instant::motion(const Eigen::VectorXd& y) const {
    return motion_of(states(), *lu_, entries(y).data());
}

} // namespace needleturn::sim
