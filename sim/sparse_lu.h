/// LU factorisation of matrices that share one sparsity pattern, without pivoting.
///
/// The elimination is planned once: a fill-reducing order (approximate minimum degree) and, per pivot, the list of
/// multiplications it needs. Factoring then is a walk over that list. No pivoting is needed for the matrices of a
/// Rosenbrock step, I/(h gamma) - J, and comparing pascals with cubic metres per second for size would mislead it.
#pragma once

#include <Eigen/OrderingMethods>
#include <Eigen/SparseCore>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <map>
#include <set>
#include <span>
#include <stdexcept>
#include <utility>
#include <vector>

namespace needleturn::sim {

class SparseLu {
  public:
    using Index = std::uint32_t;
    using Entry = std::pair<std::size_t, std::size_t>; ///< row, column

    SparseLu() = default;

    /// Plans the elimination for an n x n matrix with these non-zeros; the diagonal is always included.
    SparseLu(std::size_t n, const std::vector<Entry>& entries) : size_{n} {
        const auto order = elimination_order(n, entries);
        std::vector<std::set<std::size_t>> row(n), column(n); // structure by row and by column, with fill
        const auto add = [&](std::size_t i, std::size_t j) { row[i].insert(j), column[j].insert(i); };
        for (std::size_t i = 0; i < n; ++i)
            add(i, i);
        for (const auto& [i, j] : entries)
            add(i, j);

        std::vector<bool> done(n, false);
        const auto remaining = [&](const std::set<std::size_t>& all, std::size_t pivot) {
            std::vector<std::size_t> left;
            for (const auto i : all)
                if (!done[i] && i != pivot)
                    left.push_back(i);
            return left;
        };
        std::vector<std::pair<std::vector<std::size_t>, std::vector<std::size_t>>> blocks; // lower rows, upper columns
        for (const auto pivot : order) {
            auto lower = remaining(column[pivot], pivot);
            auto upper = remaining(row[pivot], pivot);
            for (const auto i : lower)
                for (const auto j : upper)
                    add(i, j);
            done[pivot] = true;
            blocks.emplace_back(std::move(lower), std::move(upper));
        }

        // Entries in the order in which the elimination meets them, so that a factorisation reads memory forwards.
        for (std::size_t k = 0; k < n; ++k) {
            const auto pivot = order[k];
            const auto place = [&](std::size_t i, std::size_t j) {
                return static_cast<Index>(position_.try_emplace({i, j}, position_.size()).first->second);
            };
            Pivot plan{static_cast<Index>(pivot), place(pivot, pivot), static_cast<Index>(lower_.size()), 0,
                       static_cast<Index>(upper_.size()), 0};
            for (const auto i : blocks[k].first)
                lower_.push_back({place(i, pivot), static_cast<Index>(i)});
            for (const auto j : blocks[k].second)
                upper_.push_back({place(pivot, j), static_cast<Index>(j)});
            plan.lower_end = static_cast<Index>(lower_.size());
            plan.upper_end = static_cast<Index>(upper_.size());
            pivots_.push_back(plan);
        }
        for (std::size_t i = 0; i < n; ++i)
            diagonal_.push_back(static_cast<Index>(position_.at({i, i})));
        for (std::size_t k = 0; k < n; ++k)
            for (const auto i : blocks[k].first)
                for (const auto j : blocks[k].second)
                    targets_.push_back(static_cast<Index>(position_.at({i, j})));
    }

    std::size_t size() const { return size_; }

    /// Number of stored entries, fill included: the length of the array that `factor` works on.
    std::size_t entries() const { return position_.size(); }

    /// Where entry (row, column) lives in that array. Throws std::out_of_range if it is not in the pattern.
    std::size_t position(std::size_t row, std::size_t column) const { return position_.at({row, column}); }

    /// Positions of the diagonal, by row.
    const std::vector<Index>& diagonal() const { return diagonal_; }

    /// All positions, by (row, column).
    const std::map<Entry, std::size_t>& positions() const { return position_; }

    /// Factors in place; afterwards the diagonal holds inverse pivots. False if a pivot vanished or is not finite.
    template <class T> bool factor(T* a) const {
        const Index* target = targets_.data();
        for (const auto& pivot : pivots_) {
            const T inverse = T(1) / a[pivot.diagonal];
            a[pivot.diagonal] = inverse;
            if (!std::isfinite(inverse))
                return false;
            for (Index l = pivot.lower_begin; l < pivot.lower_end; ++l) {
                T& factor = a[lower_[l].at];
                factor *= inverse;
                for (Index u = pivot.upper_begin; u < pivot.upper_end; ++u)
                    a[*target++] -= factor * a[upper_[u].at];
            }
        }
        return true;
    }

    /// Replaces b by the solution, with a factored array.
    template <class T> void solve(const T* a, T* b) const {
        for (const auto& pivot : pivots_) {
            const T known = b[pivot.row];
            for (Index l = pivot.lower_begin; l < pivot.lower_end; ++l)
                b[lower_[l].index] -= a[lower_[l].at] * known;
        }
        for (auto pivot = pivots_.rbegin(); pivot != pivots_.rend(); ++pivot) {
            T rest = b[pivot->row];
            for (Index u = pivot->upper_begin; u < pivot->upper_end; ++u)
                rest -= a[upper_[u].at] * b[upper_[u].index];
            b[pivot->row] = rest * a[pivot->diagonal];
        }
    }

  private:
    struct Place {
        Index at;    ///< position in the array
        Index index; ///< row of a lower entry, column of an upper entry
    };
    struct Pivot {
        Index row, diagonal, lower_begin, lower_end, upper_begin, upper_end;
    };

    static std::vector<std::size_t> elimination_order(std::size_t n, const std::vector<Entry>& entries) {
        std::vector<Eigen::Triplet<double>> ones;
        for (const auto& [i, j] : entries) {
            if (i >= n || j >= n)
                throw std::out_of_range("sparsity entry outside the matrix");
            ones.emplace_back(static_cast<int>(i), static_cast<int>(j), 1.0);
            ones.emplace_back(static_cast<int>(j), static_cast<int>(i), 1.0);
        }
        for (std::size_t i = 0; i < n; ++i)
            ones.emplace_back(static_cast<int>(i), static_cast<int>(i), 1.0);
        Eigen::SparseMatrix<double> symmetric(static_cast<int>(n), static_cast<int>(n));
        symmetric.setFromTriplets(ones.begin(), ones.end());
        Eigen::AMDOrdering<int>::PermutationType permutation;
        Eigen::AMDOrdering<int>{}(symmetric, permutation);
        std::vector<std::size_t> order;
        for (std::size_t k = 0; k < n; ++k)
            order.push_back(static_cast<std::size_t>(permutation.indices()[static_cast<int>(k)]));
        return order;
    }

    std::size_t size_ = 0;
    std::map<Entry, std::size_t> position_;
    std::vector<Pivot> pivots_;
    std::vector<Place> lower_, upper_;
    std::vector<Index> targets_, diagonal_;
};

} // namespace needleturn::sim
