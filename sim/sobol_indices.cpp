#include "sim/sobol_indices.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>

namespace needleturn::sim {

namespace {

/// Mean of terms and its standard error.
template <class Term> std::pair<double, double> mean_of(std::size_t rows, Term&& term) {
    const auto n = static_cast<double>(rows);
    double sum = 0, squares = 0;
    for (std::size_t k = 0; k < rows; ++k) {
        const double x = term(k);
        sum += x;
        squares += x * x;
    }
    const double mean = sum / n;
    return {mean, std::sqrt(std::max(0.0, squares / n - mean * mean) / n)};
}

} // namespace

std::vector<SobolIndex> sobol_indices(std::span<const double> a, std::span<const double> b,
                                      std::span<const std::vector<double>> ab) {
    const std::size_t rows = a.size();
    if (rows < 2 || b.size() != rows)
        throw std::invalid_argument("Sobol indices need two samples of equal length, 2 or more");
    double mean = 0, variance = 0;
    for (std::size_t k = 0; k < rows; ++k)
        mean += (a[k] + b[k]) / static_cast<double>(2 * rows);
    for (std::size_t k = 0; k < rows; ++k)
        variance +=
            ((a[k] - mean) * (a[k] - mean) + (b[k] - mean) * (b[k] - mean)) / static_cast<double>(2 * rows);
    std::vector<SobolIndex> indices;
    for (const auto& mixed : ab) {
        if (mixed.size() != rows)
            throw std::invalid_argument("Sobol indices need samples of equal length");
        const auto [alone, alone_error] =
            mean_of(rows, [&](std::size_t k) { return (b[k] - mean) * (mixed[k] - a[k]); });
        const auto [total, total_error] =
            mean_of(rows, [&](std::size_t k) { return 0.5 * (a[k] - mixed[k]) * (a[k] - mixed[k]); });
        indices.push_back(
            {alone / variance, total / variance, alone_error / variance, total_error / variance});
    }
    return indices;
}

} // namespace needleturn::sim
