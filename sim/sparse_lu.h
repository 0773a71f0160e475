/// LU factorisation of matrices that share one sparsity pattern, without pivoting: A = L D U with unit triangles.
///
/// The elimination is planned once: the order of the pivots, and from it flat lists of the operations needed.
/// Factoring and solving then walk those lists. No pivoting is needed for the matrices of a Rosenbrock step,
/// I/(h gamma) - J, and comparing pascals with cubic metres per second for size would mislead it.
///
/// For matrices this small a solution waits for results more than it computes. So the order weighs both, as few new
/// entries as possible (H. M. Markowitz, Management Science 3:255, 1957) and a short chain of pivots that wait for
/// one another: a pipe of N cells is eliminated from many places at once, with log N waits in place of N.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <map>
#include <numeric>
#include <set>
#include <span>
#include <stdexcept>
#include <type_traits>
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
        const auto place = [&](std::size_t i, std::size_t j) {
            return static_cast<Index>(position_.try_emplace({i, j}, position_.size()).first->second);
        };
        // Places are given as the elimination meets them, so that a factorisation reads memory forwards.
        const auto order = elimination(n, entries);
        std::vector<std::vector<Term>> down(n),
            up(n); // per row, unknowns in the order in which they become known
        for (const auto& [pivot, lower, upper] : order) {
            pivots_.push_back(
                {place(pivot, pivot), static_cast<Index>(lower.size()), static_cast<Index>(upper.size())});
            for (const auto i : lower) {
                below_.push_back(place(i, pivot));
                down[i].push_back({static_cast<Index>(pivot), below_.back()});
            }
            for (const auto j : upper)
                across_.push_back(place(pivot, j));
            for (const auto i : lower)
                for (const auto j : upper)
                    targets_.push_back(place(i, j));
        }
        for (auto last = order.rbegin(); last != order.rend(); ++last)
            for (const auto& [pivot, lower, upper] : order)
                if (std::binary_search(upper.begin(), upper.end(), last->pivot))
                    up[pivot].push_back({static_cast<Index>(last->pivot), place(pivot, last->pivot)});
        for (std::size_t i = 0; i < n; ++i)
            diagonal_.push_back(place(i, i));
        const auto add = [&](std::vector<Row>& rows, std::size_t i, const std::vector<Term>& terms) {
            rows.push_back({static_cast<Index>(i), diagonal_[i], static_cast<Index>(terms.size())});
            terms_.insert(terms_.end(), terms.begin(), terms.end());
        };
        for (const auto& [pivot, lower, upper] : order)
            if (!down[pivot].empty())
                add(down_, pivot, down[pivot]);
        for (auto last = order.rbegin(); last != order.rend(); ++last)
            add(up_, last->pivot, up[last->pivot]);
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

    /// Factors in place; afterwards the diagonal holds inverse pivots. False if a pivot vanished or is not finite; of a pack
    /// of matrices always true, and those that break down have solutions that are not finite.
    template <class T> bool factor(T* a) const {
        const Index* lower = below_.data();
        const Index* upper = across_.data();
        const Index* target = targets_.data();
        for (const auto& pivot : pivots_) {
            const T inverse = T(1) / a[pivot.diagonal];
            a[pivot.diagonal] = inverse;
            if constexpr (std::is_floating_point_v<T>)
                if (!std::isfinite(inverse))
                    return false;
            for (Index l = 0; l < pivot.lower; ++l) {
                T& factor = a[lower[l]];
                factor *= inverse;
                for (Index u = 0; u < pivot.upper; ++u)
                    a[*target++] -= factor * a[upper[u]];
            }
            for (Index u = 0; u < pivot.upper; ++u)
                a[upper[u]] *= inverse;
            lower += pivot.lower;
            upper += pivot.upper;
        }
        return true;
    }

    /// Replaces b by the solution, with a factored array. Row by row, so that what a row gathers stays in a register.
    template <class T> void solve(const T* __restrict a, T* __restrict b) const {
        const Term* term = terms_.data();
        const auto gather = [&](const Row& row, T known) {
            for (const Term* const end = term + row.terms; term != end; ++term)
                known -= a[term->at] * b[term->unknown];
            b[row.row] = known;
        };
        for (const auto& row : down_)
            gather(row, b[row.row]);
        for (const auto& row : up_)
            gather(row, b[row.row] * a[row.diagonal]);
    }

  private:
    /// a[at] * b[unknown]
    struct Term {
        Index unknown, at;
    };
    struct Row {
        Index row, diagonal; ///< the latter a position
        Index terms;         ///< number of them
    };
    struct Pivot {
        Index diagonal;     ///< position
        Index lower, upper; ///< number of entries below it and to the right of it
    };
    struct Elimination {
        std::size_t pivot;
        std::vector<std::size_t> lower, upper; ///< rows and columns still to come that it touches
    };

    /// The order of the pivots, each with the structure it meets, fill included.
    static std::vector<Elimination> elimination(std::size_t n, const std::vector<Entry>& entries) {
        std::vector<std::set<std::size_t>> row(n), column(n); // what is left, without the diagonal
        const auto add = [&](std::size_t i, std::size_t j) {
            if (i != j) {
                row[i].insert(j);
                column[j].insert(i);
            }
        };
        for (const auto& [i, j] : entries) {
            if (i >= n || j >= n)
                throw std::out_of_range("sparsity entry outside the matrix");
            add(i, j);
        }
        std::vector<std::size_t> left(n),
            wait(n, 0); // pivots, and how many others each has to wait for in a row
        std::iota(left.begin(), left.end(), std::size_t{0});
        const auto cost = [&](std::size_t p) { return row[p].size() * column[p].size() + 2 * wait[p]; };
        std::vector<Elimination> order;
        while (!left.empty()) {
            const auto next =
                std::min_element(left.begin(), left.end(), [&](auto p, auto q) { return cost(p) < cost(q); });
            const auto pivot = *next;
            left.erase(next);
            for (const auto i : column[pivot])
                for (const auto j : row[pivot])
                    add(i, j);
            for (const auto i : column[pivot]) {
                row[i].erase(pivot);
                wait[i] = std::max(wait[i], wait[pivot] + 1);
            }
            for (const auto j : row[pivot]) {
                column[j].erase(pivot);
                wait[j] = std::max(wait[j], wait[pivot] + 1);
            }
            order.push_back({pivot,
                             {column[pivot].begin(), column[pivot].end()},
                             {row[pivot].begin(), row[pivot].end()}});
        }
        return order;
    }

    std::size_t size_ = 0;
    std::map<Entry, std::size_t> position_;
    std::vector<Pivot> pivots_;
    std::vector<Row> down_, up_;
    std::vector<Term> terms_; ///< of all rows down, then of all rows up
    std::vector<Index> below_, across_, targets_, diagonal_;
};

} // namespace needleturn::sim
